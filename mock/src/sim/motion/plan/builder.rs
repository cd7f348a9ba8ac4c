//! Plans a program in one pass.

use std::collections::VecDeque;
use std::f64::consts::PI;
use std::io::BufRead;

use super::broken::BrokenLines;
use super::chunk::MotionChunk;
use super::error::PlanError;
use super::layer::LayerCounter;
use super::options::PlanOptions;
use super::step::{Place, ProgramStep};
use super::steps::{Full, Steps};
use super::sum::Sum;
use super::totals::{Plan, Totals};
use crate::sim::HeaterKind;
use crate::sim::motion::interpreter::{CodeFault, Command, Interpreter, Move};
use crate::sim::motion::planner::{LookAhead, Planned, Segment};
use crate::sim::motion::reader::{Block, BrokenLine, LineFault, ProgramReader, ReadError};

/// Plans a whole program. Memory is bounded by the options, whatever the program's length.
///
/// Reading ends at the program's end mark or end code; what follows is not read.
///
/// # Errors
/// [`PlanError`] if an option is outside its bound, the input fails, a line cannot be carried out (unless such lines
/// are to be skipped), or there are too many stops.
pub fn plan_program(input: impl BufRead, options: &PlanOptions) -> Result<Plan, PlanError> {
    let options = options.checked()?;
    let mut reader = ProgramReader::new(input, options.bare_letters);
    let mut interpreter = Interpreter::new(options.interpreter)?;
    let mut broken = BrokenLines::new(options.on_broken_line);
    let mut builder = Builder::new(&options);
    let mut commands = Vec::new();
    while !builder.ended && !broken.breaks_off() {
        match reader.next_block() {
            Ok(None) => break,
            Ok(Some(block)) => match interpreter.carry_out(&block, &mut commands) {
                Ok(()) => builder.take_all(&block, &commands)?,
                Err(fault) => broken.note(fault)?,
            },
            Err(ReadError::Line(fault)) => broken.note(as_code_fault(fault))?,
            Err(ReadError::Input(error)) => return Err(error.into()),
        }
    }
    let (bytes, lines) = (reader.bytes_read(), reader.lines_read());
    builder.end(Place {
        line: lines,
        byte: bytes,
    })?;
    let totals = Totals {
        bytes,
        lines,
        ..builder.totals()
    };
    let steps = builder.out.finish(options.max_steps, lines)?;
    let radius_mm = options.filament_diameter_mm / 2.0;
    let ignored = interpreter.ignored().clone();
    Ok(Plan {
        steps,
        totals,
        filament_area_mm2: PI * radius_mm * radius_mm,
        ignored,
        broken,
    })
}

fn as_code_fault(broken: BrokenLine<LineFault>) -> BrokenLine<CodeFault> {
    BrokenLine {
        line: broken.line,
        column: broken.column,
        fault: CodeFault::Grammar(broken.fault),
    }
}

/// Takes commands and keeps the sums.
struct Builder {
    options: PlanOptions,
    window: LookAhead<MotionChunk>,
    out: Outlet,
    layers: LayerCounter,
    filament_mm: f64,
    dwell_s: Sum,
    naive_s: Sum,
    path_mm: Sum,
    moves: u64,
    ended: bool,
}

impl Builder {
    fn new(options: &PlanOptions) -> Self {
        Self {
            options: *options,
            window: LookAhead::new(&options.limits),
            out: Outlet::new(options),
            layers: LayerCounter::new(options.layer_step_mm),
            filament_mm: 0.0,
            dwell_s: Sum::default(),
            naive_s: Sum::default(),
            path_mm: Sum::default(),
            moves: 0,
            ended: false,
        }
    }

    fn totals(&self) -> Totals {
        Totals {
            moves: self.moves,
            motion_s: self.out.motion_s.total(),
            dwell_s: self.dwell_s.total(),
            naive_s: self.naive_s.total(),
            path_mm: self.path_mm.total(),
            filament_mm: self.filament_mm,
            layers: self.layers.index(),
            ..Totals::default()
        }
    }

    fn take_all(&mut self, block: &Block<'_>, commands: &[Command]) -> Result<(), PlanError> {
        for command in commands {
            self.take(block, command);
        }
        self.out.check(self.options.max_steps, block.line)
    }

    fn take(&mut self, block: &Block<'_>, command: &Command) {
        let place = Place {
            line: block.line,
            byte: block.end_byte,
        };
        match *command {
            Command::Move(step) => self.go(block, &step),
            Command::Settle => self.rest(),
            Command::Dwell { duration_s } => {
                self.dwell_s.add(duration_s);
                self.naive_s.add(duration_s);
                self.stop(ProgramStep::Dwell { duration_s, place });
            }
            Command::SetTarget { heater, celsius } => self.set_target(heater, celsius),
            Command::WaitTarget { heater, celsius } => {
                self.stop(ProgramStep::WaitTarget {
                    heater,
                    celsius,
                    place,
                });
            }
            Command::Fan { fraction } => self.instant(ProgramStep::Fan { fraction }),
            Command::Pause => self.stop(ProgramStep::Pause { place }),
            Command::End => self.ended = true,
        }
    }

    fn end(&mut self, place: Place) -> Result<(), PlanError> {
        self.stop(ProgramStep::End { place });
        self.out.check(self.options.max_steps, place.line)
    }

    fn set_target(&mut self, heater: HeaterKind, celsius: f64) {
        self.instant(ProgramStep::SetTarget { heater, celsius });
    }

    fn go(&mut self, block: &Block<'_>, step: &Move) {
        let Some(segment) = Segment::of(step, &self.options.limits) else {
            return;
        };
        if let Some(z_mm) = self.layers.note(step) {
            self.instant(ProgramStep::LayerChange {
                index: self.layers.index(),
                z_mm,
            });
        }
        let naive_s = segment.length_mm / segment.feed_mm_per_s;
        let before_mm = self.filament_mm;
        self.filament_mm = before_mm.max(step.end.material_mm);
        self.naive_s.add(naive_s);
        if segment.travels {
            self.path_mm.add(segment.length_mm);
        }
        self.moves += 1;
        let tag = MotionChunk {
            duration_s: 0.0,
            naive_s,
            start: Place {
                line: block.line,
                byte: block.start_byte,
            },
            end: Place {
                line: block.line,
                byte: block.end_byte,
            },
            layer: self.layers.index(),
            start_z_mm: step.start.xyz_mm[2],
            end_z_mm: step.end.xyz_mm[2],
            start_filament_mm: before_mm,
            filament_mm: self.filament_mm - before_mm,
            moves: 1,
        };
        let out = &mut self.out;
        self.window
            .push(segment, tag, &mut |planned| out.planned(&planned));
    }

    /// Lets a step of no length happen in its place between the moves, without a stop.
    fn instant(&mut self, step: ProgramStep) {
        if self.window.waiting() == 0 {
            self.out.add(step);
        } else {
            self.out.add_after(self.moves, step);
        }
    }

    fn rest(&mut self) {
        let out = &mut self.out;
        self.window.rest(&mut |planned| out.planned(&planned));
        // What was to happen after the last move happens now that it is out.
        out.release(u64::MAX);
    }

    fn stop(&mut self, step: ProgramStep) {
        self.rest();
        self.out.add(step);
    }
}

/// Brings moves that come late out of the window and steps that come at once into one order.
struct Outlet {
    steps: Steps,
    /// Steps of no length, each with the number of moves that come before it.
    instants: VecDeque<(u64, ProgramStep)>,
    moves_out: u64,
    motion_s: Sum,
    full: bool,
}

impl Outlet {
    fn new(options: &PlanOptions) -> Self {
        Self {
            steps: Steps::new(options.chunk_s, options.max_steps),
            instants: VecDeque::new(),
            moves_out: 0,
            motion_s: Sum::default(),
            full: false,
        }
    }

    fn planned(&mut self, planned: &Planned<MotionChunk>) {
        self.release(self.moves_out);
        let duration_s = planned.profile.duration_s();
        self.motion_s.add(duration_s);
        self.moves_out += 1;
        let result = self.steps.move_on(&MotionChunk {
            duration_s,
            ..planned.tag
        });
        self.note(result);
    }

    fn add(&mut self, step: ProgramStep) {
        let result = self.steps.add(step);
        self.note(result);
    }

    /// Keeps a step until so many moves are out; one that a later step at the same place undoes is dropped, so that
    /// the queue stays as short as the window.
    fn add_after(&mut self, moves: u64, step: ProgramStep) {
        let at_same_place = self
            .instants
            .iter()
            .rev()
            .take_while(|(other, _)| *other == moves)
            .count();
        let first = self.instants.len() - at_same_place;
        let undone = (first..self.instants.len())
            .find(|index| self.instants[*index].1.instant() == step.instant());
        if let Some(index) = undone {
            self.instants.remove(index);
        }
        self.instants.push_back((moves, step));
    }

    fn release(&mut self, moves_out: u64) {
        while let Some((_, step)) = self.instants.pop_front_if(|(moves, _)| *moves <= moves_out) {
            self.add(step);
        }
    }

    fn note(&mut self, result: Result<(), Full>) {
        self.full |= result.is_err();
    }

    fn check(&self, max_steps: usize, line: u64) -> Result<(), PlanError> {
        if self.full {
            Err(PlanError::TooManySteps { max_steps, line })
        } else {
            Ok(())
        }
    }

    fn finish(self, max_steps: usize, line: u64) -> Result<Vec<ProgramStep>, PlanError> {
        self.steps
            .finish()
            .map_err(|Full| PlanError::TooManySteps { max_steps, line })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_of_no_length_between_two_moves_do_not_pile_up() {
        let mut out = Outlet::new(&PlanOptions::default());
        for index in 0..1000 {
            out.add_after(
                7,
                ProgramStep::Fan {
                    fraction: f64::from(index) / 1000.0,
                },
            );
            out.add_after(
                7,
                ProgramStep::SetTarget {
                    heater: HeaterKind::Extruder,
                    celsius: 200.0,
                },
            );
        }
        assert_eq!(out.instants.len(), 2);
    }
}
