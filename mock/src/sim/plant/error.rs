//! What can be wrong with the description of a plant.

use thiserror::Error;

/// Says why a plant cannot be built.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlantError {
    /// A number is outside what the model can carry.
    #[error("{quantity} is {value} {unit} (allowed: {min} to {max} {unit})")]
    OutOfRange {
        /// The quantity's name.
        quantity: &'static str,
        /// What was given.
        value: f64,
        /// The smallest allowed value.
        min: f64,
        /// The largest allowed value.
        max: f64,
        /// The unit of all three.
        unit: &'static str,
    },
    /// A sensor lag is neither none nor long enough to be one.
    #[error("sensor lag is {value} s (use 0 for none, or at least {min} s)")]
    SensorLagTooShort {
        /// What was given, in seconds.
        value: f64,
        /// The shortest lag, in seconds.
        min: f64,
    },
    /// A coupling names a heater that is not there.
    #[error("coupling names heater {index} of {count} (heaters are counted from 0)")]
    NoSuchHeater {
        /// The index given.
        index: usize,
        /// How many heaters there are.
        count: usize,
    },
    /// A coupling goes from a heater to itself.
    #[error("coupling joins heater {index} to itself")]
    SelfCoupling {
        /// The heater's index.
        index: usize,
    },
}
