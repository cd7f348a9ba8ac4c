//! Carries lines out, one after the other.

use super::arc::{Arc, Ends};
use super::code::{Code, Group, Motion};
use super::command::{Command, Move, MoveKind, Path};
use super::error::{CodeFault, CodeName};
use super::ignored::IgnoredCodes;
use super::modal::{AXES, MATERIAL, Modal};
use super::options::{DwellUnit, InterpreterOptions, MaterialMode, OptionalLines, RapidSpeed};
use super::statement::{FaultAt, Statement};
use crate::sim::HeaterKind;
use crate::sim::motion::bounds::{self, Bound, OutOfBounds};
use crate::sim::motion::reader::{Block, BrokenLine};

/// Turns blocks into commands and keeps the state between them.
#[derive(Debug)]
pub struct Interpreter {
    options: InterpreterOptions,
    modal: Modal,
    ignored: IgnoredCodes,
    unknown: Vec<CodeName>,
}

impl Interpreter {
    /// Starts a program.
    ///
    /// # Errors
    /// [`OutOfBounds`] if a number of the options is outside its bound.
    pub fn new(options: InterpreterOptions) -> Result<Self, OutOfBounds> {
        let options = options.checked()?;
        let modal = Modal::new(&options);
        Ok(Self {
            options,
            modal,
            ignored: IgnoredCodes::default(),
            unknown: Vec::new(),
        })
    }

    /// Carries one line out: `commands` then holds what it asks for, in order.
    ///
    /// # Errors
    /// [`BrokenLine`] if the line cannot be carried out; nothing of it has been, and `commands` is empty.
    pub fn carry_out(
        &mut self,
        block: &Block<'_>,
        commands: &mut Vec<Command>,
    ) -> Result<(), BrokenLine<CodeFault>> {
        commands.clear();
        if block.optional && self.options.optional_lines == OptionalLines::LeaveOut {
            return Ok(());
        }
        self.unknown.clear();
        let mut line = Line {
            options: &self.options,
            modal: self.modal,
            commands,
        };
        match Statement::sort(block.words, &mut self.unknown)
            .and_then(|statement| line.carry_out(&statement))
        {
            Ok(()) => {
                self.modal = line.modal;
                self.unknown
                    .iter()
                    .for_each(|code| self.ignored.note(*code));
                Ok(())
            }
            Err((column, fault)) => {
                commands.clear();
                Err(BrokenLine {
                    line: block.line,
                    column,
                    fault,
                })
            }
        }
    }

    /// Lists the codes that were read over because they mean nothing here.
    pub fn ignored(&self) -> &IgnoredCodes {
        &self.ignored
    }
}

/// Carries one line out on a copy of the state.
struct Line<'a> {
    options: &'a InterpreterOptions,
    modal: Modal,
    commands: &'a mut Vec<Command>,
}

impl Line<'_> {
    /// # Source
    /// The order is that of NISTIR 6556, order of execution (from memory), but for the units: they come first, so
    /// that an F word beside G20 is read in inches.
    fn carry_out(&mut self, line: &Statement) -> Result<(), FaultAt> {
        self.set_units(line);
        let axis_code = line.code(Group::UsesAxes);
        // Beside an unknown code, or M84 which may name axes (common practice), axis words are that code's.
        let motors_off = line.code(Group::Motors).is_some();
        let words_are_ours = axis_code.is_some() || !(line.has_unknown() || motors_off);
        if words_are_ours {
            self.set_feed(line)?;
        }
        self.heat_and_blow(line)?;
        if motors_off {
            self.commands.push(Command::Settle);
        }
        if let Some((_, _, column)) = line.code(Group::Dwell) {
            self.dwell(line, column)?;
        }
        self.set_modes(line);
        match axis_code {
            Some((Code::Home, ..)) => self.home(line),
            Some((Code::SetPosition, name, column)) => self.set_position(line, name, column)?,
            Some((Code::Motion(motion), name, column)) => {
                self.modal.motion = Some(motion);
                self.go(line, Some((name, column)))?;
            }
            _ if words_are_ours => self.go(line, None)?,
            _ => {}
        }
        self.stop(line);
        Ok(())
    }

    fn set_units(&mut self, line: &Statement) {
        if let Some((code, ..)) = line.code(Group::Units) {
            self.modal.inch = code == Code::Inch;
        }
    }

    fn set_feed(&mut self, line: &Statement) -> Result<(), FaultAt> {
        if let Some(per_minute) = line.number(b'F')? {
            let speed = per_minute * self.modal.mm_per_unit() / 60.0;
            self.modal.feed_mm_per_s = Some(check(line, b'F', &bounds::SPEED, speed)?);
        }
        Ok(())
    }

    fn set_modes(&mut self, line: &Statement) {
        if let Some((code, ..)) = line.code(Group::Distance) {
            self.modal.absolute = code == Code::Absolute;
            if self.options.material_mode == MaterialMode::FollowsDistanceMode {
                self.modal.material_absolute = self.modal.absolute;
            }
        }
        if let Some((code, ..)) = line.code(Group::Material) {
            self.modal.material_absolute = code == Code::MaterialAbsolute;
        }
    }

    fn heat_and_blow(&mut self, line: &Statement) -> Result<(), FaultAt> {
        match line.code(Group::UsesS) {
            Some((Code::Heater { heater, wait }, name, column)) => {
                self.heat(line, heater, wait, (name, column))?;
            }
            Some((Code::FanOn, ..)) => {
                // Common practice: no S means full.
                let byte = line.number(b'S')?.unwrap_or(bounds::FAN_BYTE.max);
                let fraction = check(line, b'S', &bounds::FAN_BYTE, byte)? / bounds::FAN_BYTE.max;
                self.commands.push(Command::Fan { fraction });
            }
            Some((Code::FanOff, ..)) => self.commands.push(Command::Fan { fraction: 0.0 }),
            _ => {}
        }
        Ok(())
    }

    fn heat(
        &mut self,
        line: &Statement,
        heater: HeaterKind,
        wait: bool,
        (code, column): (CodeName, u32),
    ) -> Result<(), FaultAt> {
        let given = line
            .number(b'S')?
            .ok_or((column, CodeFault::WordMissing { code, needs: "S" }))?;
        let celsius = check(line, b'S', &bounds::HEATER_TARGET, given)?;
        self.commands.push(Command::SetTarget { heater, celsius });
        // A heater that is switched off has nothing to wait for.
        if wait && celsius > 0.0 {
            self.commands.push(Command::WaitTarget { heater, celsius });
        }
        Ok(())
    }

    fn dwell(&mut self, line: &Statement, column: u32) -> Result<(), FaultAt> {
        let seconds_per_p = match self.options.dwell {
            DwellUnit::Milliseconds => 1e-3,
            DwellUnit::Seconds => 1.0,
        };
        let (letter, duration_s) = match (line.number(b'S')?, line.number(b'P')?) {
            (Some(seconds), _) => (b'S', seconds),
            (None, Some(given)) => (b'P', given * seconds_per_p),
            (None, None) => {
                let code = CodeName {
                    letter: b'G',
                    tenths: 40,
                };
                return Err((column, CodeFault::WordMissing { code, needs: "PS" }));
            }
        };
        let duration_s = check(line, letter, &bounds::DWELL, duration_s)?;
        self.commands.push(if duration_s > 0.0 {
            Command::Dwell { duration_s }
        } else {
            Command::Settle
        });
        Ok(())
    }

    /// Drives the named axes, or all three, to the end switches, where their offsets end.
    fn home(&mut self, line: &Statement) {
        let start = self.modal.position();
        let all = !b"XYZ".iter().any(|letter| line.has(*letter));
        for (axis, letter) in AXES.into_iter().enumerate().take(MATERIAL) {
            if all || line.has(letter) {
                self.modal.place_mm[axis] = self.options.home_mm[axis];
                self.modal.offset_mm[axis] = 0.0;
            }
        }
        let end = self.modal.position();
        let feed_mm_per_s = self.options.homing_mm_per_s;
        let home = Move {
            start,
            end,
            path: Path::Straight,
            feed_mm_per_s,
            kind: MoveKind::Home,
        };
        self.commands.push(if start == end {
            Command::Settle
        } else {
            Command::Move(home)
        });
    }

    fn set_position(
        &mut self,
        line: &Statement,
        code: CodeName,
        column: u32,
    ) -> Result<(), FaultAt> {
        let mut any = false;
        for (axis, letter) in AXES.into_iter().enumerate() {
            if let Some(word) = line.number(letter)? {
                let coordinate = check(
                    line,
                    letter,
                    bound_of(axis),
                    word * self.modal.mm_per_unit(),
                )?;
                self.modal.offset_mm[axis] = self.modal.place_mm[axis] - coordinate;
                any = true;
            }
        }
        // NISTIR 6556 (from memory): the code needs at least one axis word.
        if any {
            Ok(())
        } else {
            Err((
                column,
                CodeFault::WordMissing {
                    code,
                    needs: "XYZE",
                },
            ))
        }
    }

    /// Moves if the line has words to move by.
    fn go(&mut self, line: &Statement, named: Option<(CodeName, u32)>) -> Result<(), FaultAt> {
        let axis_words = AXES.iter().any(|letter| line.has(*letter));
        let centre_words = b"IJ".iter().any(|letter| line.has(*letter));
        let motion = match self.modal.motion {
            Some(motion) => motion,
            None if axis_words => {
                let first = AXES
                    .into_iter()
                    .find(|letter| line.has(*letter))
                    .unwrap_or(b'X');
                return Err((line.column(first), CodeFault::NoMotionCode));
            }
            None => return Ok(()),
        };
        let curved = matches!(motion, Motion::ArcClockwise | Motion::ArcCounter);
        let named_curved = curved && named.is_some();
        if !(axis_words || curved && centre_words || named_curved) {
            return Ok(());
        }
        let start = self.modal.position();
        for (axis, letter) in AXES.into_iter().enumerate() {
            if let Some(word) = line.number(letter)? {
                let target_mm = self.modal.target_mm(axis, word);
                self.modal.place_mm[axis] = check(line, letter, bound_of(axis), target_mm)?;
            }
        }
        let end = self.modal.position();
        let path = if curved {
            self.arc(line, motion, start.xyz_mm, end.xyz_mm)?
        } else {
            Path::Straight
        };
        if path == Path::Straight && start == end {
            return Ok(());
        }
        let kind = if motion == Motion::Rapid {
            MoveKind::Rapid
        } else {
            MoveKind::Feed
        };
        let column = named.map_or(line.first_column(), |(_, column)| column);
        let feed_mm_per_s = self.feed(kind).ok_or((column, CodeFault::NoFeed))?;
        self.commands.push(Command::Move(Move {
            start,
            end,
            path,
            feed_mm_per_s,
            kind,
        }));
        Ok(())
    }

    fn feed(&self, kind: MoveKind) -> Option<f64> {
        match (kind, self.options.rapid) {
            (MoveKind::Rapid, RapidSpeed::Fixed { mm_per_s }) => Some(mm_per_s),
            _ => self.modal.feed_mm_per_s,
        }
    }

    fn arc(
        &self,
        line: &Statement,
        motion: Motion,
        start: [f64; 3],
        end: [f64; 3],
    ) -> Result<Path, FaultAt> {
        let clockwise = motion == Motion::ArcClockwise;
        let ends = Ends {
            start_mm: [start[0], start[1]],
            end_mm: [end[0], end[1]],
            clockwise,
        };
        let scale = self.modal.mm_per_unit();
        let tolerance_mm = self.options.arc_tolerance_mm;
        let number = |letter| -> Result<Option<f64>, FaultAt> {
            match line.number(letter)? {
                Some(word) => check(line, letter, &bounds::COORDINATE, word * scale).map(Some),
                None => Ok(None),
            }
        };
        let (letter, arc) = match (number(b'R')?, number(b'I')?, number(b'J')?) {
            (None, None, None) => {
                let code = CodeName {
                    letter: b'G',
                    tenths: if clockwise { 20 } else { 30 },
                };
                return Err((
                    line.column(b'G'),
                    CodeFault::WordMissing { code, needs: "IJR" },
                ));
            }
            (Some(radius), None, None) => (b'R', Arc::by_radius(ends, radius, tolerance_mm)),
            (Some(_), ..) => (b'R', Err(CodeFault::ArcTwice)),
            (None, i, j) => {
                let letter = if i.is_some() { b'I' } else { b'J' };
                (
                    letter,
                    Arc::by_centre(ends, [i.unwrap_or(0.0), j.unwrap_or(0.0)], tolerance_mm),
                )
            }
        };
        arc.map(Path::Arc)
            .map_err(|fault| (line.column(letter), fault))
    }

    fn stop(&mut self, line: &Statement) {
        match line.code(Group::Stopping) {
            Some((Code::Pause, ..)) => self.commands.push(Command::Pause),
            Some((Code::OptionalPause, ..)) if self.options.optional_stop => {
                self.commands.push(Command::Pause);
            }
            Some((Code::End, ..)) => self.commands.push(Command::End),
            _ => {}
        }
    }
}

fn bound_of(axis: usize) -> &'static Bound {
    if axis == MATERIAL {
        &bounds::MATERIAL
    } else {
        &bounds::COORDINATE
    }
}

fn check(line: &Statement, letter: u8, bound: &Bound, value: f64) -> Result<f64, FaultAt> {
    bound
        .check(value)
        .map_err(|error| (line.column(letter), CodeFault::Bounds(error)))
}
