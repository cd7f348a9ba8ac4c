//! The standard form of a sighting: one JSON object a line.

use coldbed_mock::sim::Phase;
use serde_json::{Map, Value};

use super::{Claim, HeaterSighting, PhaseClaim, Sighting};

/// The members of the standard form.
pub(super) const MEMBERS: [&str; 8] = [
    "phase",
    "heaters",
    "progress-percent",
    "elapsed-seconds",
    "remaining-seconds",
    "job-name",
    "reason",
    "safe-to-touch",
];

impl Sighting {
    /// Reads a line; `None` if it is not a JSON object with at least one member that is known.
    pub fn from_line(line: &str) -> Option<Self> {
        let value: Value = serde_json::from_str(line).ok()?;
        Self::from_object(value.as_object()?)
    }

    /// Reads an object; `None` if it has no member that is known.
    pub(super) fn from_object(object: &Map<String, Value>) -> Option<Self> {
        if !MEMBERS.iter().any(|name| object.contains_key(*name)) {
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

    /// Writes a line. What is not reported is left out.
    pub fn to_line(&self) -> String {
        let mut object = Map::new();
        put(&mut object, "phase", &self.phase, |phase| match phase {
            PhaseClaim::Known(phase) => phase.word().into(),
            PhaseClaim::Other(word) => word.as_str().into(),
        });
        if !self.heaters.is_empty() {
            let heaters = self.heaters.iter();
            let heaters: Map<String, Value> = heaters
                .map(|(name, heater)| (name.clone(), heater.to_value()))
                .collect();
            object.insert("heaters".to_owned(), heaters.into());
        }
        let of_number = |number: &f64| Value::from(*number);
        put(
            &mut object,
            "progress-percent",
            &self.progress_percent,
            of_number,
        );
        put(
            &mut object,
            "elapsed-seconds",
            &self.elapsed_seconds,
            of_number,
        );
        put(
            &mut object,
            "remaining-seconds",
            &self.remaining_seconds,
            of_number,
        );
        let of_text = |text: &String| Value::from(text.as_str());
        put(&mut object, "job-name", &self.job_name, of_text);
        put(&mut object, "reason", &self.reason, of_text);
        put(&mut object, "safe-to-touch", &self.safe_to_touch, |safe| {
            Value::from(*safe)
        });
        Value::from(object).to_string()
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

    fn to_value(&self) -> Value {
        let mut object = Map::new();
        let of_number = |number: &f64| Value::from(*number);
        put(
            &mut object,
            "actual-celsius",
            &self.actual_celsius,
            of_number,
        );
        put(
            &mut object,
            "target-celsius",
            &self.target_celsius,
            of_number,
        );
        put(&mut object, "on", &self.on, |on| Value::from(*on));
        object.into()
    }
}

fn put<T>(
    object: &mut Map<String, Value>,
    member: &str,
    claim: &Claim<T>,
    write: impl Fn(&T) -> Value,
) {
    let value = match claim {
        Claim::NotReported => return,
        Claim::Unknown => Value::Null,
        Claim::Value(value) => write(value),
    };
    object.insert(member.to_owned(), value);
}

fn yes_or_no(value: Option<&Value>) -> Claim<bool> {
    match value {
        None => Claim::NotReported,
        Some(Value::Bool(yes)) => Claim::Value(*yes),
        Some(_) => Claim::Unknown,
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

fn text(value: Option<&Value>) -> Claim<String> {
    match value {
        None => Claim::NotReported,
        Some(Value::String(text)) => Claim::Value(text.clone()),
        Some(_) => Claim::Unknown,
    }
}
