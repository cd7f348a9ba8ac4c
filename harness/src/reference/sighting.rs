//! What the reference watcher makes of one answer.

use serde::Serialize;
use serde_json::{Map, Value};

/// Is what is shown after one poll. `None` is unknown, and written as `null`.
#[derive(Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) struct Sighting {
    phase: &'static str,
    heaters: Map<String, Value>,
    progress_percent: Option<f64>,
    elapsed_seconds: Option<f64>,
    remaining_seconds: Option<f64>,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
struct Heater {
    actual_celsius: Option<f64>,
    target_celsius: Option<f64>,
    on: Option<bool>,
}

impl Sighting {
    /// Says that nothing is known.
    pub(super) fn unknown() -> Self {
        Self {
            phase: "unknown",
            heaters: Map::new(),
            progress_percent: None,
            elapsed_seconds: None,
            remaining_seconds: None,
        }
    }

    /// Reads an answer's body. Whatever is missing, null or of another type is unknown; the rest
    /// still counts.
    pub(super) fn from_body(body: &[u8]) -> Self {
        let Ok(Value::Object(printer)) = serde_json::from_slice(body) else {
            return Self::unknown();
        };
        let job = printer.get("job");
        let of_job = |name: &str| job.and_then(|job| job.get(name)).and_then(Value::as_f64);
        Self {
            phase: phase(&printer),
            heaters: heaters(printer.get("heaters")),
            progress_percent: of_job("progress-percent"),
            elapsed_seconds: of_job("elapsed-seconds"),
            remaining_seconds: of_job("remaining-seconds"),
        }
    }
}

/// Takes heaters by name: their order and number differ from printer to printer.
fn heaters(value: Option<&Value>) -> Map<String, Value> {
    let heater = |(name, value): (&String, &Value)| {
        let number = |member: &str| value.get(member).and_then(Value::as_f64);
        let target_celsius = number("target-celsius");
        let heater = Heater {
            actual_celsius: number("actual-celsius"),
            target_celsius,
            // On means that heat is asked for. A part may be hot and off, or cold and on.
            on: target_celsius.map(|target| target > 0.0),
        };
        Some((name.clone(), serde_json::to_value(heater).ok()?))
    };
    let heaters = value.and_then(Value::as_object);
    heaters.into_iter().flatten().filter_map(heater).collect()
}

/// Derives the phase. A word that is not known is not guessed at.
fn phase(printer: &Map<String, Value>) -> &'static str {
    let Some(state) = printer.get("printer-state").and_then(Value::as_str) else {
        return "unknown";
    };
    let heating = reasons(printer).any(|reason| reason.ends_with("-heating-report"));
    let job_state = match printer.get("job") {
        Some(Value::Null) => {
            return match state {
                "stopped" => "error",
                "idle" | "processing" if heating => "heating",
                "idle" | "processing" => "idle",
                _ => "unknown",
            };
        }
        job => job
            .and_then(|job| job.get("job-state"))
            .and_then(Value::as_str),
    };
    match job_state {
        Some("pending" | "pending-held") => "idle",
        Some("processing") if heating => "heating",
        Some("processing") => "printing",
        Some("processing-stopped") => "paused",
        Some("completed") => "finished",
        Some("canceled") => "cancelled",
        Some("aborted") => "error",
        _ => "unknown",
    }
}

fn reasons(printer: &Map<String, Value>) -> impl Iterator<Item = &str> {
    let reasons = printer
        .get("printer-state-reasons")
        .and_then(Value::as_array);
    reasons.into_iter().flatten().filter_map(Value::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn seen(body: &Value) -> Sighting {
        Sighting::from_body(body.to_string().as_bytes())
    }

    #[test]
    fn a_null_target_is_unknown_and_leaves_the_rest_right() {
        let sighting = seen(&json!({
            "printer-state": "processing", "printer-state-reasons": ["none"],
            "heaters": {"extruder": {"actual-celsius": 209.8, "target-celsius": null}},
            "job": {"job-state": "processing", "progress-percent": 4},
        }));
        assert_eq!(sighting.phase, "printing");
        assert_eq!(
            sighting.heaters["extruder"],
            json!({"actual-celsius": 209.8, "target-celsius": null, "on": null})
        );
        assert_eq!(sighting.progress_percent, Some(4.0));
    }

    #[test]
    fn what_is_no_json_object_is_unknown() {
        for body in ["", "[]", "{\"printer-state\":\"id", "<html>"] {
            assert_eq!(
                Sighting::from_body(body.as_bytes()),
                Sighting::unknown(),
                "{body}"
            );
        }
    }

    #[test]
    fn a_word_never_heard_of_is_not_guessed_at() {
        let job = json!({"job-state": "resting"});
        let sighting = seen(&json!({"printer-state": "processing", "job": job}));
        assert_eq!(sighting.phase, "unknown");
    }
}
