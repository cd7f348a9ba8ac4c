//! One thing a watcher claimed to see.

use coldbed_mock::sim::Phase;
use indexmap::IndexMap;
use serde_json::Value;

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

/// Is one line of a watcher's output, understood.
///
/// The form is one JSON object a line:
///
/// ```
/// use coldbed::watcher::{Claim, Sighting};
///
/// let line = r#"{"phase":"heating","heaters":{"extruder":{"actual-celsius":81.5,
///     "target-celsius":210,"on":true}},"progress-percent":0,"remaining-seconds":null}"#;
/// let sighting = Sighting::from_line(line).expect("an object");
/// assert_eq!(sighting.progress_percent, Claim::Value(0.0));
/// assert_eq!(sighting.remaining_seconds, Claim::Unknown);
/// assert_eq!(sighting.elapsed_seconds, Claim::NotReported);
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
    /// Why the printer does not print: a keyword, or the watcher's own words.
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
    /// Reads a line; `None` if it is not a JSON object with at least one member that is known.
    pub fn from_line(line: &str) -> Option<Self> {
        let value: Value = serde_json::from_str(line).ok()?;
        let object = value.as_object()?;
        const KNOWN: [&str; 8] = [
            "phase",
            "heaters",
            "progress-percent",
            "elapsed-seconds",
            "remaining-seconds",
            "job-name",
            "reason",
            "safe-to-touch",
        ];
        if !KNOWN.iter().any(|name| object.contains_key(*name)) {
            return None;
        }
        let heaters = object.get("heaters").and_then(Value::as_object);
        Some(Self {
            phase: phase(object.get("phase")),
            heaters: heaters
                .into_iter()
                .flatten()
                .map(|(name, heater)| (name.clone(), HeaterSighting::from_value(heater)))
                .collect(),
            progress_percent: number(object.get("progress-percent")),
            elapsed_seconds: number(object.get("elapsed-seconds")),
            remaining_seconds: number(object.get("remaining-seconds")),
            job_name: text(object.get("job-name")),
            reason: text(object.get("reason")),
            safe_to_touch: yes_or_no(object.get("safe-to-touch")),
        })
    }

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
}

impl HeaterSighting {
    fn from_value(value: &Value) -> Self {
        Self {
            actual_celsius: number(value.get("actual-celsius")),
            target_celsius: number(value.get("target-celsius")),
            on: yes_or_no(value.get("on")),
        }
    }
}

fn phase(value: Option<&Value>) -> Claim<PhaseClaim> {
    match value {
        None => Claim::NotReported,
        Some(Value::Null) => Claim::Unknown,
        Some(Value::String(word)) if word == "unknown" => Claim::Unknown,
        Some(Value::String(word)) => {
            let known = Phase::ALL.into_iter().find(|phase| phase.word() == word);
            Claim::Value(known.map_or_else(|| PhaseClaim::Other(word.clone()), PhaseClaim::Known))
        }
        Some(other) => Claim::Value(PhaseClaim::Other(other.to_string())),
    }
}

/// Reads a number. Anything else than a number says nothing that could be held against the truth,
/// so it counts as unknown; a check that expects a value then says so.
fn number(value: Option<&Value>) -> Claim<f64> {
    match value {
        None => Claim::NotReported,
        Some(value) => value.as_f64().map_or(Claim::Unknown, Claim::Value),
    }
}

fn yes_or_no(value: Option<&Value>) -> Claim<bool> {
    match value {
        None => Claim::NotReported,
        Some(Value::Bool(yes)) => Claim::Value(*yes),
        Some(_) => Claim::Unknown,
    }
}

/// Reads a text. Anything else says nothing that could be held against the truth.
fn text(value: Option<&Value>) -> Claim<String> {
    match value {
        None => Claim::NotReported,
        Some(Value::String(text)) => Claim::Value(text.clone()),
        Some(_) => Claim::Unknown,
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
}
