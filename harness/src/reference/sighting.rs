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
    job_name: Option<String>,
    reason: Option<String>,
    safe_to_touch: Option<bool>,
    /// How long the host is up. It is not shown: it only tells an old answer from a live one.
    #[serde(skip)]
    pub(super) up_time_seconds: Option<f64>,
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
            job_name: None,
            reason: None,
            safe_to_touch: None,
            up_time_seconds: None,
        }
    }

    /// Reads an answer's body; `None` if it is no JSON object. Whatever is missing, null or of
    /// another type is unknown; the rest still counts.
    pub(super) fn from_body(body: &[u8]) -> Option<Self> {
        let Ok(Value::Object(printer)) = serde_json::from_slice(body) else {
            return None;
        };
        let job = printer.get("job");
        // What cannot be is a mistake or of another unit, and so not known.
        let of_job = |name: &str, most: f64| {
            let number = job.and_then(|job| job.get(name)).and_then(Value::as_f64);
            number.filter(|number| (0.0..=most).contains(number))
        };
        let heaters = heaters(printer.get("heaters"));
        Some(Self {
            phase: phase(&printer),
            safe_to_touch: safe_to_touch(&heaters),
            heaters,
            progress_percent: of_job("progress-percent", 100.0),
            elapsed_seconds: of_job("elapsed-seconds", f64::MAX),
            remaining_seconds: of_job("remaining-seconds", f64::MAX),
            job_name: job
                .and_then(|job| job.get("job-name"))
                .and_then(Value::as_str)
                .map(str::to_owned),
            reason: reason(&printer),
            up_time_seconds: printer.get("printer-up-time").and_then(Value::as_f64),
        })
    }
}

/// Takes heaters by name: their order and number differ from printer to printer.
fn heaters(value: Option<&Value>) -> Map<String, Value> {
    let heater = |(name, value): (&String, &Value)| {
        let number = |member: &str| value.get(member).and_then(Value::as_f64);
        let target_celsius = number("target-celsius");
        let heater = Heater {
            actual_celsius: number("actual-celsius").filter(|celsius| *celsius >= COLDEST_CELSIUS),
            target_celsius,
            // On means that heat is asked for. A part may be hot and off, or cold and on.
            on: target_celsius.map(|target| target > 0.0),
        };
        Some((name.clone(), serde_json::to_value(heater).ok()?))
    };
    let heaters = value.and_then(Value::as_object);
    heaters.into_iter().flatten().filter_map(heater).collect()
}

/// Absolute zero (BIPM, The International System of Units, from memory).
const COLDEST_CELSIUS: f64 = -273.15;

/// Below this bare metal may be touched for as long as one likes (ISO 13732-1:2006, from memory). A
/// sensor reads its own place only: even so it is no advice to touch anything.
const MAY_BE_TOUCHED_BELOW_CELSIUS: f64 = 43.0;

/// Says whether all that is heated is cool, whether it is on or off; unknown if one reading is.
fn safe_to_touch(heaters: &Map<String, Value>) -> Option<bool> {
    let readings: Option<Vec<f64>> = heaters
        .values()
        .map(|heater| heater.get("actual-celsius").and_then(Value::as_f64))
        .collect();
    let readings = readings.filter(|readings| !readings.is_empty())?;
    Some(
        readings
            .iter()
            .all(|celsius| *celsius < MAY_BE_TOUCHED_BELOW_CELSIUS),
    )
}

/// Gives why the printer does what it does, in the host's keywords.
fn reason(printer: &Map<String, Value>) -> Option<String> {
    let reasons = printer.get("printer-state-reasons")?.as_array()?;
    let words: Option<Vec<&str>> = reasons.iter().map(Value::as_str).collect();
    Some(words?.join(" "))
}

/// Derives the phase. A word that is not known is not guessed at.
fn phase(printer: &Map<String, Value>) -> &'static str {
    let state = printer.get("printer-state").and_then(Value::as_str);
    let heating = heating(printer);
    let job = match printer.get("job") {
        Some(Value::Null) => {
            return match (state, heating) {
                (Some("stopped"), _) => "error",
                (_, None) => "unknown",
                (_, Some(true)) => "heating",
                (Some("idle" | "processing"), Some(false)) => "idle",
                _ => "unknown",
            };
        }
        job => job,
    };
    let job_state = job
        .and_then(|job| job.get("job-state"))
        .and_then(Value::as_str);
    match (job_state, heating) {
        (Some("pending" | "pending-held"), _) => "idle",
        (Some("processing"), Some(true)) => "heating",
        (Some("processing"), Some(false)) => "printing",
        (Some("processing-stopped"), _) => "paused",
        (Some("completed"), _) => "finished",
        (Some("canceled"), _) => "cancelled",
        (Some("aborted"), _) => "error",
        _ => "unknown",
    }
}

/// Tells whether some heater is on its way to its target; `None` if the reasons cannot be read.
fn heating(printer: &Map<String, Value>) -> Option<bool> {
    let reasons = printer.get("printer-state-reasons")?.as_array()?;
    let reasons: Option<Vec<&str>> = reasons.iter().map(Value::as_str).collect();
    Some(
        reasons?
            .iter()
            .any(|reason| reason.ends_with("-heating-report")),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn seen(body: &Value) -> Sighting {
        Sighting::from_body(body.to_string().as_bytes()).expect("an object")
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
    fn a_number_that_cannot_be_is_unknown() {
        let with = |percent: f64, seconds: i64, celsius: f64| {
            seen(&json!({
                "heaters": {"extruder": {"actual-celsius": celsius, "target-celsius": 0}},
                "job": {
                    "progress-percent": percent,
                    "elapsed-seconds": seconds,
                    "remaining-seconds": seconds,
                },
            }))
        };
        for (percent, seconds, celsius) in [(100.1, -1, -273.2), (-0.1, -5, -400.0)] {
            let sighting = with(percent, seconds, celsius);
            assert_eq!(sighting.progress_percent, None);
            assert_eq!(sighting.elapsed_seconds, None);
            assert_eq!(sighting.remaining_seconds, None);
            assert_eq!(sighting.heaters["extruder"]["actual-celsius"], Value::Null);
            assert_eq!(sighting.safe_to_touch, None);
        }
        for (percent, celsius) in [(0.0, -273.15), (100.0, -40.0)] {
            let sighting = with(percent, 0, celsius);
            assert_eq!(sighting.progress_percent, Some(percent));
            assert_eq!(sighting.elapsed_seconds, Some(0.0));
            assert_eq!(sighting.remaining_seconds, Some(0.0));
            assert_eq!(
                sighting.heaters["extruder"]["actual-celsius"],
                json!(celsius)
            );
        }
    }

    #[test]
    fn what_is_no_json_object_says_nothing() {
        let deep = "{\"a\":".repeat(100_000);
        let texts = [
            "",
            "[]",
            "{\"printer-state\":\"id",
            "<html>",
            "{\"a\":NaN}",
            "{} {}",
        ];
        for body in texts.into_iter().chain([deep.as_str()]) {
            let head = body.get(..20).unwrap_or(body);
            assert_eq!(Sighting::from_body(body.as_bytes()), None, "{head}");
        }
    }

    #[test]
    fn reasons_that_cannot_be_read_leave_open_whether_it_heats_or_prints() {
        for reasons in [json!(null), json!("none"), json!([7]), json!({})] {
            let sighting = seen(&json!({
                "printer-state": "processing", "printer-state-reasons": reasons,
                "job": {"job-state": "processing"},
            }));
            assert_eq!(sighting.phase, "unknown");
        }
    }

    #[test]
    fn a_word_never_heard_of_is_not_guessed_at() {
        let job = json!({"job-state": "resting"});
        let sighting = seen(&json!({
            "printer-state": "processing", "printer-state-reasons": ["none"], "job": job,
        }));
        assert_eq!(sighting.phase, "unknown");
    }
}
