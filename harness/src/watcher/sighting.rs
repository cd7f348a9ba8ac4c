//! One thing a watcher claimed to see.

use coldbed_mock::sim::Phase;
use indexmap::IndexMap;

/// Is what a watcher says of one quantity.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Claim<T> {
    /// The member is not there: this watcher does not report the quantity.
    #[default]
    NotReported,
    /// The watcher says that it does not know (`null`).
    Unknown,
    /// The watcher says this.
    Value(T),
}

impl<T> Claim<T> {
    /// Tells whether the quantity is reported at all, known or not.
    pub fn is_reported(&self) -> bool {
        !matches!(self, Self::NotReported)
    }

    /// Takes a value back, if one is reported.
    fn withdraw(&mut self) {
        if self.is_reported() {
            *self = Self::Unknown;
        }
    }
}

/// Is a phase as the watcher put it.
#[derive(Debug, Clone, PartialEq)]
pub enum PhaseClaim {
    /// One of the seven phases.
    Known(Phase),
    /// A word that is none of them.
    Other(String),
}

impl std::fmt::Display for PhaseClaim {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Known(phase) => phase.fmt(f),
            Self::Other(word) => write!(f, "`{word}`"),
        }
    }
}

/// Is what a watcher claims to see at one moment.
///
/// Its standard form is one JSON object a line:
///
/// ```
/// use coldbed::watcher::{Claim, Sighting};
///
/// let line = r#"{"phase":"heating","heaters":{"extruder":{"actual-celsius":81.5,
///     "target-celsius":210,"on":true}},"progress-percent":0,"remaining-seconds":null,
///     "job-name":"hook.gcode"}"#;
/// let sighting = Sighting::from_line(line).expect("an object");
/// assert_eq!(sighting.progress_percent, Claim::Value(0.0));
/// assert_eq!(sighting.remaining_seconds, Claim::Unknown);
/// assert_eq!(sighting.elapsed_seconds, Claim::NotReported);
/// assert_eq!(sighting.job_name, Claim::Value("hook.gcode".to_owned()));
///
/// assert!(Sighting::from_line("connecting …").is_none());
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sighting {
    /// The phase. The word `unknown` and `null` both say that the watcher does not know.
    pub phase: Claim<PhaseClaim>,
    /// Heaters by name.
    pub heaters: IndexMap<String, HeaterSighting>,
    /// Progress, 0 to 100.
    pub progress_percent: Claim<f64>,
    /// Elapsed time, s.
    pub elapsed_seconds: Claim<f64>,
    /// Remaining time, s.
    pub remaining_seconds: Claim<f64>,
    /// The job's name.
    pub job_name: Claim<String>,
    /// Why the printer is in error, in the watcher's words.
    pub reason: Claim<String>,
    /// Whether the hot parts may be touched, as the watcher says; no mock proves that they may.
    pub safe_to_touch: Claim<bool>,
}

/// Is what a watcher says of one heater.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeaterSighting {
    /// The temperature it has, C.
    pub actual_celsius: Claim<f64>,
    /// The temperature asked for, C; 0 is off.
    pub target_celsius: Claim<f64>,
    /// Whether it is on.
    pub on: Claim<bool>,
}

impl Sighting {
    /// Tells whether the watcher says that it does not know what the printer is doing.
    ///
    /// The phase decides where it is reported; elsewhere every reported value must be unknown.
    pub fn says_unknown(&self) -> bool {
        match &self.phase {
            Claim::Unknown => true,
            Claim::Value(_) => false,
            Claim::NotReported => {
                let of_heaters = self
                    .heaters
                    .values()
                    .flat_map(|heater| [&heater.actual_celsius, &heater.target_celsius]);
                let mut numbers = of_heaters.chain([
                    &self.progress_percent,
                    &self.elapsed_seconds,
                    &self.remaining_seconds,
                ]);
                !numbers.any(|claim| matches!(claim, Claim::Value(_)))
            }
        }
    }

    /// Takes back everything that is reported, as a display does that says that it knows nothing.
    pub(super) fn withdraw(&mut self) {
        self.phase.withdraw();
        for heater in self.heaters.values_mut() {
            heater.actual_celsius.withdraw();
            heater.target_celsius.withdraw();
            heater.on.withdraw();
        }
        self.progress_percent.withdraw();
        self.elapsed_seconds.withdraw();
        self.remaining_seconds.withdraw();
        self.job_name.withdraw();
        self.reason.withdraw();
        self.safe_to_touch.withdraw();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_word_unknown_and_null_both_say_that_it_does_not_know() {
        for line in [r#"{"phase":"unknown"}"#, r#"{"phase":null}"#] {
            let sighting = Sighting::from_line(line).unwrap();
            assert_eq!(sighting.phase, Claim::Unknown);
            assert!(sighting.says_unknown());
        }
    }

    #[test]
    fn a_word_that_is_no_phase_is_kept_as_it_was_said() {
        let sighting = Sighting::from_line(r#"{"phase":"busy"}"#).unwrap();
        assert_eq!(
            sighting.phase,
            Claim::Value(PhaseClaim::Other("busy".to_owned()))
        );
        assert!(!sighting.says_unknown());
    }

    #[test]
    fn without_a_phase_one_live_number_is_enough_to_know() {
        let live = Sighting::from_line(r#"{"progress-percent":3}"#).unwrap();
        assert!(!live.says_unknown());
        let withdrawn = Sighting::from_line(r#"{"progress-percent":null,"heaters":{}}"#).unwrap();
        assert!(withdrawn.says_unknown());
    }

    #[test]
    fn an_object_with_no_known_member_is_no_sighting() {
        assert_eq!(Sighting::from_line(r#"{"level":"info"}"#), None);
        assert_eq!(Sighting::from_line("[]"), None);
    }

    #[test]
    fn only_what_is_reported_can_be_taken_back() {
        let line = r#"{"progress-percent":3,"heaters":{"extruder":{"on":true}}}"#;
        let mut sighting = Sighting::from_line(line).unwrap();
        sighting.withdraw();
        assert_eq!(sighting.progress_percent, Claim::Unknown);
        assert_eq!(sighting.heaters["extruder"].on, Claim::Unknown);
        assert_eq!(sighting.elapsed_seconds, Claim::NotReported);
    }
}
