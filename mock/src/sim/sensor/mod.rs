//! Temperature sensors: from the true temperature of a part to the number that its host reports.
//!
//! Owns: the element (thermistor, platinum or ideal), its wiring to an ADC, the host's own conversion, noise,
//! rounding, reading times and sensor faults. Does not own: where the true temperature comes from, and what a
//! host does with a strange reading (that is `protection`).

mod chain;
mod conversion;
mod curve;
mod divider;
mod element;
mod error;
mod fault;
mod grid;
mod noise;
pub mod ntc;
pub mod platinum;
mod quantum;
mod reading;
mod reporting;

pub use chain::{SensorChain, SensorSetup};
pub use conversion::Conversion;
pub use curve::Curve;
pub use divider::Divider;
pub use element::{Element, Wired};
pub use error::SensorError;
pub use fault::{Fault, FaultKind};
pub use noise::Noise;
pub use quantum::{Quantum, Rounding};
pub use reading::{Break, Reading};
pub use reporting::{Rails, Reporting};
