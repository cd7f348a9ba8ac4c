//! Thermal protection: what a controller watches so that one failure does not become a fire.
//!
//! Owns: the rules, their bounds, the latch, and the `printer-state-reasons` keyword of a trip. Does not own: what
//! follows from a trip (heaters off, motion stopped, the reason shown until a person clears it), which is the
//! machine's part.
//!
//! The rules here say how the mock behaves; that they hold says nothing about a real printer. In a real one a
//! cut-off that is independent of the control loop is the usual answer, somebody stays near, and the maker's
//! instructions hold. After a trip the metal is still hot: from 210 to 50 °C takes minutes.

mod defaults;
mod error;
mod observation;
mod rule;
mod rules;
mod span;
mod trip;
mod watch;

pub use error::ProtectionError;
pub use observation::Observation;
pub use rule::{
    AboveMaximum, AboveTarget, BelowMinimum, FallenAway, HeatingTooSlow, Jump, JumpBound,
    SensorLost,
};
pub use rules::Rules;
pub(in crate::sim) use span::Span;
pub use trip::{Rule, Trip};
pub use watch::Protection;
