//! What a plan depends on besides the program.

use super::broken::OnBrokenLine;
use crate::sim::motion::bounds::{CHUNK, FILAMENT_DIAMETER, LAYER_STEP, OutOfBounds, PLAN_STEPS};
use crate::sim::motion::interpreter::InterpreterOptions;
use crate::sim::motion::planner::MotionLimits;
use crate::sim::motion::reader::BareLetters;

/// Holds everything that a plan depends on besides the program.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanOptions {
    /// How words are read.
    pub interpreter: InterpreterOptions,
    /// How fast the machine may go.
    pub limits: MotionLimits,
    /// What happens to letters without a number.
    pub bare_letters: BareLetters,
    /// What happens to lines that cannot be carried out.
    pub on_broken_line: OnBrokenLine,
    /// Diameter of the filament.
    pub filament_diameter_mm: f64,
    /// The shortest rise or drop that counts as a new layer.
    pub layer_step_mm: f64,
    /// The least time of a chunk of motion, unless a step ends it. Grows by itself where the plan would get too long.
    pub chunk_s: f64,
    /// How many steps the plan may hold.
    pub max_steps: usize,
}

impl Default for PlanOptions {
    fn default() -> Self {
        Self {
            interpreter: InterpreterOptions::default(),
            limits: MotionLimits::default(),
            bare_letters: BareLetters::default(),
            on_broken_line: OnBrokenLine::default(),
            // Common practice: the thinner of the two usual filaments.
            filament_diameter_mm: 1.75,
            // Chosen: below the thinnest usual layer (0.06 mm or so).
            layer_step_mm: 0.05,
            // Chosen: a watcher polls about once a second, so half that is not seen.
            chunk_s: 0.5,
            // Chosen: about 10 MB, and a day of motion in chunks of a second.
            max_steps: 100_000,
        }
    }
}

impl PlanOptions {
    /// Gives the options back if every number is within its bound.
    ///
    /// # Errors
    /// [`OutOfBounds`] for the first number that is not.
    pub fn checked(self) -> Result<Self, OutOfBounds> {
        self.interpreter.checked()?;
        self.limits.checked()?;
        FILAMENT_DIAMETER.check(self.filament_diameter_mm)?;
        LAYER_STEP.check(self.layer_step_mm)?;
        CHUNK.check(self.chunk_s)?;
        #[expect(clippy::cast_precision_loss, reason = "only compared with a bound")]
        PLAN_STEPS.check(self.max_steps as f64)?;
        Ok(self)
    }
}
