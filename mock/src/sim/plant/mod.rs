//! Heaters as bodies that warm and cool: truth about temperatures, nothing about who asks for them.
//!
//! Owns: heat capacity, losses, part fan, filament flow, dead time, sensor lag, heat that goes from
//! one heater to another, a broken element. Does not own: targets, control, protection, the
//! sensor's noise and faults, time itself (every step is one control period).
//!
//! The model is the lumped heater: one temperature per body, a loss in proportion to the difference
//! to the room. Fair while the Biot number is below 0.1; radiation is not in it. It shows what a
//! heater's readings look like. It proves nothing about a real heater being safe to leave alone.
//!
//! Each step is the exact solution of the linear equations for a power held over the period, so a
//! result does not depend on the size of the step. It uses only the four basic operations, never the
//! platform's `exp`, so it is the same to the last bit on every machine.

mod coupled;
mod dead_time;
mod discrete;
mod element;
mod error;
mod first_order;
mod matrix;
mod network;
#[cfg(test)]
pub(crate) mod sample;
mod spec;

pub use error::PlantError;
pub use first_order::FirstOrder;
pub use network::ThermalNetwork;
pub use spec::{Coupling, HeaterSpec, melting_watts_per_kelvin};
