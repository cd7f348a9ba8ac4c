//! Claims and moments in words.

use std::time::Duration;

use crate::watcher::{Claim, HeaterSighting, Sighting};

/// Writes a moment of a run.
pub(super) fn moment(at: Duration) -> String {
    format!("{:.3}", at.as_secs_f64())
}

/// Writes a claim as a person would say it.
pub(super) fn sighting(sighting: &Sighting) -> String {
    let mut parts = Vec::new();
    let mut add = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            parts.push(format!("{name} {value}"));
        }
    };
    add("phase", word(&sighting.phase));
    for (name, heater) in &sighting.heaters {
        add(name, heater_words(heater));
    }
    add("progress", number(&sighting.progress_percent, " %"));
    add("elapsed", number(&sighting.elapsed_seconds, " s"));
    add("remaining", number(&sighting.remaining_seconds, " s"));
    add("job", word(&sighting.job_name));
    add("reason", word(&sighting.reason));
    match parts.is_empty() {
        true => "nothing".to_owned(),
        false => parts.join(", "),
    }
}

fn heater_words(heater: &HeaterSighting) -> Option<String> {
    let actual = number(&heater.actual_celsius, " °C");
    let target = number(&heater.target_celsius, " °C").map(|target| format!("target {target}"));
    let on = match &heater.on {
        Claim::NotReported => None,
        Claim::Unknown => Some("on or off unknown".to_owned()),
        Claim::Value(on) => Some(if *on { "on" } else { "off" }.to_owned()),
    };
    let parts: Vec<String> = [actual, target, on].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(" / "))
}

fn word<T: std::fmt::Display>(claim: &Claim<T>) -> Option<String> {
    match claim {
        Claim::NotReported => None,
        Claim::Unknown => Some("unknown".to_owned()),
        Claim::Value(value) => Some(value.to_string()),
    }
}

fn number(claim: &Claim<f64>, unit: &str) -> Option<String> {
    word(claim).map(|text| match claim {
        Claim::Value(_) => text + unit,
        _ => text,
    })
}
