//! What a job does once everything is hot.

use std::io::{self, BufRead, Read};
use std::sync::Arc;

use super::super::bounds;
use super::super::error::{ScenarioError, join};
use super::super::file::beside;
use super::super::plan::{PlannedProgram, Program};
use super::super::quantity::{At, Seconds};
use super::super::raw::{RawJob, RawOnBrokenLine};
use super::{Checked, Checker, Heaters, count, place_of};
use crate::sim::motion::generator::ProgramText;
use crate::sim::motion::plan::{
    OnBrokenLine, Plan, PlanError, PlanOptions, ProgramStep, plan_program,
};

/// A usual print of a few hours at 0.2 mm (own choice).
const LAYERS: f64 = 100.0;
/// A program longer than this is some other file (own choice).
const MOST_PROGRAM_BYTES: u64 = 1 << 32;

impl Checker<'_> {
    pub(super) fn program(
        &self,
        path: &str,
        raw: &RawJob,
        targets_celsius: &[(usize, f64)],
        heaters: &Heaters,
    ) -> Checked<Program> {
        let at = |key| join(path, key);
        let broken = [("on-broken-line", place_of(raw.on_broken_line.as_ref()))];
        if raw.duration.is_none() {
            let layers = [("layers", place_of(raw.layers.as_ref()))];
            let problem = "belongs to `duration` [a program has its own]";
            self.no_strangers(path, &layers, problem)?;
        }
        let planned = match (&raw.duration, &raw.program, &raw.print) {
            (Some(duration), None, None) => return self.timed(path, raw, duration),
            (None, Some(file), None) => self.read_program(path, raw, file)?,
            (None, None, Some(print)) => {
                let problem = "does not belong to `print` [it has no broken line]";
                self.no_strangers(path, &broken, problem)?;
                let field = at("print");
                let made = self.test_print(&field, print, targets_celsius, heaters)?;
                let text = ProgramText::new(made.lines());
                let options = self.options(path, raw)?;
                self.planned(&field, print.place(), text, options, None)?
            }
            _ => {
                let keys = [
                    ("duration", place_of(raw.duration.as_ref())),
                    ("program", place_of(raw.program.as_ref())),
                    ("print", place_of(raw.print.as_ref())),
                ];
                return Err(self.not_one(path, raw.name.place(), &keys));
            }
        };
        if on_broken_line(raw) != OnBrokenLine::Skip {
            self.targets_fit(path, raw, &planned.plan, heaters)?;
        }
        Ok(Program::Planned(Arc::new(planned)))
    }

    fn timed(&self, path: &str, raw: &RawJob, duration: &At<Seconds>) -> Checked<Program> {
        let strangers = [
            ("motion", place_of(raw.motion.as_ref())),
            ("on-broken-line", place_of(raw.on_broken_line.as_ref())),
        ];
        let problem = "does not belong to `duration` [it is for part programs]";
        self.no_strangers(path, &strangers, problem)?;
        let layers = raw.layers.as_ref();
        Ok(Program::Duration {
            ticks: self.moment(&join(path, "duration"), duration, bounds::JOB_S)?,
            layers: count(self.or_default(
                &join(path, "layers"),
                layers,
                bounds::LAYERS,
                LAYERS,
            )?),
        })
    }

    fn options(&self, path: &str, raw: &RawJob) -> Checked<PlanOptions> {
        Ok(PlanOptions {
            limits: self.limits(&join(path, "motion"), raw.motion.as_ref().map(At::get))?,
            on_broken_line: on_broken_line(raw),
            ..PlanOptions::default()
        })
    }

    fn read_program(&self, path: &str, raw: &RawJob, file: &At<String>) -> Checked<PlannedProgram> {
        let options = self.options(path, raw)?;
        let field = &join(path, "program");
        let program = beside(self.sources.file_at(file.place()), file.get());
        let text = self.files.open(&program).map_err(|error| {
            self.error(file, field, format!("`{program}` cannot be read: {error}"))
        })?;
        self.planned(field, file.place(), text, options, Some(&program))
    }

    /// Plans a program. `place` is where the scenario asks for it, `file` where its text is from.
    fn planned(
        &self,
        field: &str,
        place: usize,
        text: impl BufRead,
        options: PlanOptions,
        file: Option<&str>,
    ) -> Checked<PlannedProgram> {
        let mut text = Counted {
            text: text.take(MOST_PROGRAM_BYTES),
            bytes: 0,
        };
        let here = |problem: String| self.sources.error_at(Some(place), field, problem);
        let unreadable = |error: &io::Error| match file {
            Some(file) => here(format!("`{file}` cannot be read: {error}")),
            None => here(error.to_string()),
        };
        let plan = plan_program(&mut text, &options).map_err(|error| match (error, file) {
            (PlanError::Line(line), Some(file)) => ScenarioError {
                file: file.to_owned(),
                line: usize::try_from(line.line).ok(),
                field: String::new(),
                problem: format!(
                    "column {}: {} [{field} asks for this program; on-broken-line = \"skip\" leaves such lines out, \"abort\" ends the job there]",
                    line.column, line.fault
                ),
            },
            (PlanError::Input(error), _) => unreadable(&error),
            (error, _) => here(error.to_string()),
        })?;
        // A host that counts bytes counts those after the program's end too.
        io::copy(&mut text, &mut io::sink()).map_err(|error| unreadable(&error))?;
        let takes_s = plan.totals.known_s();
        if !bounds::JOB_S.holds(takes_s) {
            return Err(here(format!(
                "the program's time, {}",
                bounds::JOB_S.problem(takes_s)
            )));
        }
        Ok(PlannedProgram {
            plan,
            bytes: text.bytes,
        })
    }

    /// Holds what a program asks of its heaters to what they may be asked.
    fn targets_fit(&self, path: &str, raw: &RawJob, plan: &Plan, heaters: &Heaters) -> Checked<()> {
        for step in &plan.steps {
            let (ProgramStep::SetTarget { heater, celsius }
            | ProgramStep::WaitTarget {
                heater, celsius, ..
            }) = step
            else {
                continue;
            };
            let limit = heaters
                .values()
                .filter(|plan| plan.kind == *heater)
                .map(|plan| plan.max_celsius)
                .fold(f64::INFINITY, f64::min);
            if *celsius > limit {
                let problem = format!(
                    "the program asks for {celsius} C of the {heater}, which takes 0 to {limit} C [on-broken-line = \"skip\" lets it ask]"
                );
                let place = raw.program.as_ref().unwrap_or(&raw.name).place();
                return Err(self
                    .sources
                    .error_at(Some(place), join(path, "program"), problem));
            }
        }
        Ok(())
    }
}

fn on_broken_line(raw: &RawJob) -> OnBrokenLine {
    match raw.on_broken_line.as_ref().map(|word| *word.get()) {
        None | Some(RawOnBrokenLine::Stop) => OnBrokenLine::Stop,
        Some(RawOnBrokenLine::Skip) => OnBrokenLine::Skip,
        Some(RawOnBrokenLine::Abort) => OnBrokenLine::BreakOff,
    }
}

/// Counts what is read.
struct Counted<R> {
    text: R,
    bytes: u64,
}

impl<R: BufRead> BufRead for Counted<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.text.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.bytes += amount as u64;
        self.text.consume(amount);
    }
}

impl<R: BufRead> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.text.read(buffer)?;
        self.bytes += count as u64;
        Ok(count)
    }
}
