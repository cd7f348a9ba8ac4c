//! First order plus dead time, span by span.

use super::spans::Span;

/// Is what all spans of a heater share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shared {
    /// How far full power raises it above the room at last, K.
    pub(super) rise_kelvin: f64,
    /// The time constant, s.
    pub(super) tau_s: f64,
    /// The room, °C.
    pub(super) room_celsius: f64,
}

impl Shared {
    /// Gives the temperature at a moment of a span that began with `start_celsius`, and in which nothing is seen
    /// of the new power for `dead_s`.
    ///
    /// # Source
    /// K e^(-theta s)/(tau s + 1), the usual model of a process with a lag and a delay (Ziegler and
    /// Nichols 1942; common practice).
    pub(super) fn at(&self, span: &Span, start_celsius: f64, dead_s: f64, at_s: f64) -> f64 {
        let towards = |share: f64, from: f64, passed: f64| {
            let end = self.room_celsius + share * self.rise_kelvin;
            end + (from - end) * (-passed / self.tau_s).exp()
        };
        let passed = at_s - span.from_s;
        let delayed = |passed: f64| match span.before {
            Some(share) => towards(share, start_celsius, passed),
            None => start_celsius,
        };
        if passed <= dead_s {
            return delayed(passed);
        }
        towards(span.input, delayed(dead_s), passed - dead_s)
    }
}
