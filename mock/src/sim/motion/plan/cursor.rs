//! Walks a plan as time goes on.

use super::chunk::MotionChunk;
use super::step::{Place, ProgramStep};
use super::totals::Plan;
use crate::sim::HeaterKind;

/// Names what the program is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Activity {
    /// Moves.
    Moving,
    /// Stays for a time that the program gives.
    Dwelling,
    /// Waits until a heater has reached its target.
    WaitingForHeat(HeaterKind),
    /// Waits for a person.
    Paused,
    /// Is over.
    Ended,
}

/// Holds what can be seen of the program at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// What it does.
    pub activity: Activity,
    /// Where in the text it is.
    pub place: Place,
    /// The layer counted from 1; 0 before the first.
    pub layer: u32,
    /// Height of the nozzle.
    pub z_mm: f64,
    /// Filament used so far.
    pub filament_mm: f64,
    /// Material that flows now.
    pub flow_mm3_per_s: f64,
    /// Time done in motion and dwells.
    pub done_s: f64,
    /// The same by the bad estimator of [`super::Totals::naive_s`].
    pub naive_done_s: f64,
}

/// Says how far a walk went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Walked {
    /// Time used of the time given. Less than given only where `met` holds a step.
    pub used_s: f64,
    /// A step met that the machine must act on: a change that takes no time, or something to wait for.
    pub met: Option<ProgramStep>,
}

/// Marks a place in a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cursor {
    index: usize,
    elapsed_s: f64,
    /// State after all steps passed.
    passed: Moment,
}

impl Cursor {
    /// Starts before the first step, at the given height.
    pub fn new(start_z_mm: f64) -> Self {
        let passed = Moment {
            activity: Activity::Moving,
            place: Place::default(),
            layer: 0,
            z_mm: start_z_mm,
            filament_mm: 0.0,
            flow_mm3_per_s: 0.0,
            done_s: 0.0,
            naive_done_s: 0.0,
        };
        Self {
            index: 0,
            elapsed_s: 0.0,
            passed,
        }
    }

    /// Walks on for a time, or until a step that the machine must act on.
    ///
    /// A change (target, fan, layer) is handed over once. A wait, a pause and the end are handed over at every call until
    /// [`Cursor::release`]; the end for ever. So the machine calls with what is left of its time until that is used or
    /// it has to wait.
    pub fn walk(&mut self, plan: &Plan, dt_s: f64) -> Walked {
        let mut left_s = dt_s;
        while let Some(step) = plan.steps.get(self.index) {
            let used_s = dt_s - left_s;
            match step.duration_s() {
                None => {
                    self.passed.place = place_of(step).unwrap_or(self.passed.place);
                    return Walked {
                        used_s,
                        met: Some(*step),
                    };
                }
                Some(duration_s) if step.instant().is_none() => {
                    let rest_s = duration_s - self.elapsed_s;
                    if left_s < rest_s {
                        self.elapsed_s += left_s;
                        return Walked {
                            used_s: dt_s,
                            met: None,
                        };
                    }
                    left_s -= rest_s.max(0.0);
                    self.pass(step);
                }
                Some(_) => {
                    self.pass(step);
                    return Walked {
                        used_s,
                        met: Some(*step),
                    };
                }
            }
        }
        Walked {
            used_s: dt_s - left_s,
            met: None,
        }
    }

    /// Gives for how long a walk will meet nothing that the machine must act on, at least: the rest of the step in hand.
    pub fn quiet_s(&self, plan: &Plan) -> f64 {
        match plan.steps.get(self.index) {
            Some(step) if step.instant().is_none() => {
                (step.duration_s().unwrap_or(0.0) - self.elapsed_s).max(0.0)
            }
            _ => 0.0,
        }
    }

    /// Goes on from a wait or a pause; does nothing elsewhere.
    pub fn release(&mut self, plan: &Plan) {
        if let Some(step @ (ProgramStep::WaitTarget { .. } | ProgramStep::Pause { .. })) =
            plan.steps.get(self.index)
        {
            self.pass(step);
        }
    }

    /// Tells what can be seen now.
    pub fn moment(&self, plan: &Plan) -> Moment {
        let ahead = plan.steps.get(self.index..).unwrap_or_default();
        let Some(step) = ahead.iter().find(|step| step.instant().is_none()) else {
            return Moment {
                activity: Activity::Ended,
                ..self.passed
            };
        };
        let passed = &self.passed;
        match step {
            ProgramStep::Motion(chunk) => self.within(chunk, plan.filament_area_mm2),
            ProgramStep::Dwell { .. } => Moment {
                activity: Activity::Dwelling,
                done_s: passed.done_s + self.elapsed_s,
                naive_done_s: passed.naive_done_s + self.elapsed_s,
                ..*passed
            },
            ProgramStep::WaitTarget { heater, .. } => Moment {
                activity: Activity::WaitingForHeat(*heater),
                ..*passed
            },
            ProgramStep::Pause { .. } => Moment {
                activity: Activity::Paused,
                ..*passed
            },
            _ => Moment {
                activity: Activity::Ended,
                ..*passed
            },
        }
    }

    fn within(&self, chunk: &MotionChunk, filament_area_mm2: f64) -> Moment {
        let part = if chunk.duration_s > 0.0 {
            (self.elapsed_s / chunk.duration_s).clamp(0.0, 1.0)
        } else {
            1.0
        };
        Moment {
            activity: Activity::Moving,
            place: Place {
                line: between(chunk.start.line, chunk.end.line, part),
                byte: between(chunk.start.byte, chunk.end.byte, part),
            },
            layer: chunk.layer,
            z_mm: chunk.start_z_mm + part * (chunk.end_z_mm - chunk.start_z_mm),
            filament_mm: chunk.start_filament_mm + part * chunk.filament_mm,
            flow_mm3_per_s: chunk.flow_mm3_per_s(filament_area_mm2),
            done_s: self.passed.done_s + self.elapsed_s,
            naive_done_s: self.passed.naive_done_s + part * chunk.naive_s,
        }
    }

    fn pass(&mut self, step: &ProgramStep) {
        let passed = &mut self.passed;
        passed.place = place_of(step).unwrap_or(passed.place);
        match step {
            ProgramStep::Motion(chunk) => {
                passed.layer = chunk.layer;
                passed.z_mm = chunk.end_z_mm;
                passed.filament_mm = chunk.start_filament_mm + chunk.filament_mm;
                passed.done_s += chunk.duration_s;
                passed.naive_done_s += chunk.naive_s;
            }
            ProgramStep::Dwell { duration_s, .. } => {
                passed.done_s += duration_s;
                passed.naive_done_s += duration_s;
            }
            _ => {}
        }
        self.index += 1;
        self.elapsed_s = 0.0;
    }
}

fn place_of(step: &ProgramStep) -> Option<Place> {
    match step {
        ProgramStep::Motion(chunk) => Some(chunk.end),
        ProgramStep::Dwell { place, .. }
        | ProgramStep::WaitTarget { place, .. }
        | ProgramStep::Pause { place }
        | ProgramStep::End { place } => Some(*place),
        ProgramStep::SetTarget { .. }
        | ProgramStep::Fan { .. }
        | ProgramStep::LayerChange { .. } => None,
    }
}

/// Gives the whole number a part of the way from one to another.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a program is below 2^53 bytes, and the part lies within 0 to 1"
)]
fn between(from: u64, to: u64, part: f64) -> u64 {
    from + (to.saturating_sub(from) as f64 * part) as u64
}
