//! Sightings made in code, by a watcher that is judged without a process.

use coldbed_mock::sim::Phase;

use super::{Claim, HeaterSighting, PhaseClaim, Sighting};

/// Makes a claim of a value, or of an option of one: `None` says that it is not known.
///
/// What is never set is not reported at all, and not judged.
impl<T> From<T> for Claim<T> {
    fn from(value: T) -> Self {
        Self::Value(value)
    }
}

impl<T> From<Option<T>> for Claim<T> {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Unknown, Self::Value)
    }
}

impl From<Phase> for Claim<PhaseClaim> {
    fn from(phase: Phase) -> Self {
        Self::Value(PhaseClaim::Known(phase))
    }
}

impl From<Option<Phase>> for Claim<PhaseClaim> {
    fn from(phase: Option<Phase>) -> Self {
        phase.map(PhaseClaim::Known).into()
    }
}

impl From<&str> for Claim<String> {
    fn from(text: &str) -> Self {
        Self::Value(text.to_owned())
    }
}

impl From<Option<&str>> for Claim<String> {
    fn from(text: Option<&str>) -> Self {
        text.map(str::to_owned).into()
    }
}

/// Making one step by step. A value is known; [`Claim::Unknown`] and an `Option` that is `None` are not:
///
/// ```
/// use coldbed::watcher::{Claim, Sighting};
/// use coldbed_mock::sim::Phase;
///
/// let seen = Sighting::new()
///     .phase(Phase::Printing)
///     .heater("extruder", |heater| heater.actual_celsius(209.5).target_celsius(Claim::Unknown).on(Claim::Unknown))
///     .progress_percent(12.5)
///     .remaining_seconds(None);
/// assert_eq!(seen.heaters["extruder"].target_celsius, Claim::Unknown);
/// assert_eq!(seen.elapsed_seconds, Claim::NotReported);
/// assert!(!seen.says_unknown());
///
/// assert!(Sighting::new().phase(Claim::Unknown).says_unknown());
/// ```
impl Sighting {
    /// Begins with nothing reported.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Says what the printer does, or that it is not known.
    #[must_use]
    pub fn phase(self, phase: impl Into<Claim<PhaseClaim>>) -> Self {
        Self {
            phase: phase.into(),
            ..self
        }
    }

    /// Says something of a heater.
    #[must_use]
    pub fn heater(
        mut self,
        name: impl Into<String>,
        say: impl FnOnce(HeaterSighting) -> HeaterSighting,
    ) -> Self {
        let heater = self.heaters.entry(name.into()).or_default();
        *heater = say(std::mem::take(heater));
        self
    }

    /// Says how much is done, 0 to 100.
    #[must_use]
    pub fn progress_percent(self, percent: impl Into<Claim<f64>>) -> Self {
        Self {
            progress_percent: percent.into(),
            ..self
        }
    }

    /// Says how long the job has been going on, s.
    #[must_use]
    pub fn elapsed_seconds(self, seconds: impl Into<Claim<f64>>) -> Self {
        Self {
            elapsed_seconds: seconds.into(),
            ..self
        }
    }

    /// Says how long it still takes, s.
    #[must_use]
    pub fn remaining_seconds(self, seconds: impl Into<Claim<f64>>) -> Self {
        Self {
            remaining_seconds: seconds.into(),
            ..self
        }
    }

    /// Says what the job is called.
    #[must_use]
    pub fn job_name(self, name: impl Into<Claim<String>>) -> Self {
        Self {
            job_name: name.into(),
            ..self
        }
    }

    /// Says whether the hot parts may be touched; no mock proves that they may.
    #[must_use]
    pub fn safe_to_touch(self, safe: impl Into<Claim<bool>>) -> Self {
        Self {
            safe_to_touch: safe.into(),
            ..self
        }
    }

    /// Says why the printer does not print.
    #[must_use]
    pub fn reason(self, reason: impl Into<Claim<String>>) -> Self {
        Self {
            reason: reason.into(),
            ..self
        }
    }
}

impl HeaterSighting {
    /// Says how warm it is, C.
    #[must_use]
    pub fn actual_celsius(self, celsius: impl Into<Claim<f64>>) -> Self {
        Self {
            actual_celsius: celsius.into(),
            ..self
        }
    }

    /// Says how warm it is to be, C; 0 is off.
    #[must_use]
    pub fn target_celsius(self, celsius: impl Into<Claim<f64>>) -> Self {
        Self {
            target_celsius: celsius.into(),
            ..self
        }
    }

    /// Says whether it is on.
    #[must_use]
    pub fn on(self, on: impl Into<Claim<bool>>) -> Self {
        Self {
            on: on.into(),
            ..self
        }
    }
}
