//! The heaters behind recorded temperatures: first order with a dead time, by least squares.
//!
//! A host seldom says how much power a heater has. What it says is enough for this: a heater whose target
//! stands well above it is at full power, one without a target is off. Between the two a controller is at
//! work, and only its kind is told.

mod control;
mod estimate;
mod fit;
mod model;
mod spans;
#[cfg(test)]
mod tests;

pub use control::Control;
pub use estimate::{Estimate, Known};
pub use fit::{HeaterFit, fit, fit_inputs};
pub use spans::{Reading, Span};
