//! Keeps the limits of every number that a program or a caller can give, in one table.
//!
//! They are wider than any machine for the desk: their purpose is that no input leads to infinite or undefined
//! times, not to judge a print. Chosen by this project unless a line says otherwise.

use thiserror::Error;

/// Names one bounded quantity with its unit and range (both ends allowed).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// What is bounded, as a message calls it.
    pub name: &'static str,
    /// Smallest value allowed, in `unit`.
    pub min: f64,
    /// Largest value allowed, in `unit`.
    pub max: f64,
    /// The unit in words or signs.
    pub unit: &'static str,
}

/// Says that a number lies outside its bound.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("{} {value} {unit} is outside {} to {} {unit}", bound.name, bound.min, bound.max, unit = bound.unit)]
pub struct OutOfBounds {
    /// The bound that was violated.
    pub bound: Bound,
    /// The number given.
    pub value: f64,
}

impl Bound {
    const fn new(name: &'static str, min: f64, max: f64, unit: &'static str) -> Self {
        Self {
            name,
            min,
            max,
            unit,
        }
    }

    /// Gives the value back if it lies within the bound.
    ///
    /// # Errors
    /// [`OutOfBounds`] if it does not, or is not a number.
    pub fn check(&self, value: f64) -> Result<f64, OutOfBounds> {
        if (self.min..=self.max).contains(&value) {
            Ok(value)
        } else {
            Err(OutOfBounds {
                bound: *self,
                value,
            })
        }
    }
}

/// A coordinate of X, Y or Z after all offsets: a hundred metres either way.
pub const COORDINATE: Bound = Bound::new("coordinate", -1e5, 1e5, "mm");
/// The sum of material fed since the start: about 300 kg of 1.75 mm filament.
pub const MATERIAL: Bound = Bound::new("material position", -1e8, 1e8, "mm");
/// A feed or travel speed; a speed of 0 would never arrive.
pub const SPEED: Bound = Bound::new("speed", 1e-3, 1e5, "mm/s");
/// A dwell: up to a week.
pub const DWELL: Bound = Bound::new("dwell", 0.0, 604_800.0, "s");
/// A heater's target as a program may ask for it; what the machine allows is the machine's own rule.
pub const HEATER_TARGET: Bound = Bound::new("heater target", 0.0, 1000.0, "celsius");
/// The S word of the fan code. Common practice: one byte.
pub const FAN_BYTE: Bound = Bound::new("fan setting", 0.0, 255.0, "of 255");
/// A number after G or M.
pub const CODE_NUMBER: Bound = Bound::new("code number", 0.0, 9999.9, "(no unit)");
/// An acceleration of the machine.
pub const ACCELERATION: Bound = Bound::new("acceleration", 1.0, 1e6, "mm/s2");
/// How far the path may round a corner off.
pub const CORNER_DEVIATION: Bound = Bound::new("corner deviation", 0.0, 10.0, "mm");
/// The diameter of the filament.
pub const FILAMENT_DIAMETER: Bound = Bound::new("filament diameter", 0.1, 20.0, "mm");
/// The shortest rise or drop that counts as a new layer.
pub const LAYER_STEP: Bound = Bound::new("layer step", 1e-4, 100.0, "mm");
/// How much the two radii of an arc may differ.
pub const ARC_TOLERANCE: Bound = Bound::new("arc tolerance", 0.0, 1.0, "mm");
/// How many moves the planner looks ahead.
pub const WINDOW_MOVES: Bound = Bound::new("look-ahead window", 1.0, 4096.0, "moves");
/// How many steps a plan may hold.
pub const PLAN_STEPS: Bound = Bound::new("plan size", 16.0, 1e7, "steps");
/// The least time a chunk of motion covers unless a step ends it.
pub const CHUNK: Bound = Bound::new("chunk length", 0.01, 3600.0, "s");
/// The size of a test print.
pub const PRINT_SIZE: Bound = Bound::new("print size", 1.0, 1e4, "mm");
/// The height of a layer.
pub const LAYER_HEIGHT: Bound = Bound::new("layer height", 0.01, 10.0, "mm");
/// The width of a bead; below its height it would not be a bead laid flat.
pub const LINE_WIDTH: Bound = Bound::new("line width", 0.01, 20.0, "mm");
/// The number of layers of a test print.
pub const LAYERS: Bound = Bound::new("layer count", 1.0, 1e6, "layers");
/// The distance between lines of filling.
pub const INFILL_SPACING: Bound = Bound::new("infill spacing", 0.05, 1e4, "mm");
/// The sides of a ring drawn as a polygon.
pub const RING_SIDES: Bound = Bound::new("ring sides", 3.0, 1e5, "sides");
/// The length of filament drawn back before a travel.
pub const RETRACTION: Bound = Bound::new("retraction", 0.0, 100.0, "mm");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ends_of_a_bound_are_allowed() {
        assert!(DWELL.check(0.0).is_ok());
        assert!(DWELL.check(604_800.0).is_ok());
    }

    #[test]
    fn what_is_no_number_is_outside_every_bound() {
        assert!(COORDINATE.check(f64::NAN).is_err());
        assert!(COORDINATE.check(f64::INFINITY).is_err());
    }

    #[test]
    fn the_message_names_quantity_value_unit_and_range() {
        let said = FAN_BYTE.check(300.0).unwrap_err().to_string();
        assert_eq!(said, "fan setting 300 of 255 is outside 0 to 255 of 255");
    }
}
