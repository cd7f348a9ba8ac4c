//! The units of the estimate, one type each.

/// Makes a quantity: a number that knows its unit.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, serde::Serialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);
    };
}

quantity! {
    /// A current, mA.
    Milliamps
}
quantity! {
    /// A charge, mAh: what a cell holds.
    MilliampHours
}
quantity! {
    /// A span of the model's time, s.
    Seconds
}
quantity! {
    /// A battery's life, h. No `Duration`: an estimate has no nanoseconds.
    Hours
}

impl Hours {
    /// Gives the same span in days of 24 h.
    pub fn days(self) -> f64 {
        self.0 / 24.0
    }
}
