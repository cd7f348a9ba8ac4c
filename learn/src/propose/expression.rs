//! What stands in a dialect's body in the place of a value.

use serde_json::Value;

use crate::host::{Form, Guess, Leaf, Meaning, Unit};

/// Says where a leaf stands in a template.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Around {
    /// Whether it is there only while there is a job.
    pub(super) in_job: bool,
}

/// Gives the expression of a leaf that is sure, without braces.
pub(super) fn expression(leaf: &Leaf, guess: &Guess, around: Around, words: &str) -> String {
    let base = base(&guess.meaning, words);
    let formed = format!("{base}{}", filters(guess));
    let when = match &guess.meaning {
        Meaning::Target(name) if leaf.is_null_at_times => {
            return format!("{formed} if heaters.{name}.on else none");
        }
        // A zero of its own stands for off where 0 °C would be another number.
        Meaning::Target(name) if matches!(guess.unit, Unit::Fahrenheit | Unit::Kelvin) => {
            return match &leaf.zero {
                Some(zero) => format!("{formed} if heaters.{name}.on else {}", literal(zero)),
                None => formed,
            };
        }
        Meaning::Progress | Meaning::Elapsed | Meaning::Remaining | Meaning::JobName => "job",
        _ => return formed,
    };
    let formed = match (&leaf.unknown, &guess.meaning) {
        (Some(unknown), Meaning::Remaining) => {
            format!(
                "{formed} if job.remaining_seconds is not none else {}",
                quoted(unknown)
            )
        }
        _ => formed,
    };
    match (&leaf.without_job, around.in_job) {
        (_, true) => formed,
        (other, false) if leaf.unknown.is_some() => {
            let other = other.as_ref().map_or("none".to_owned(), literal);
            format!("({formed}) if {when} else {other}")
        }
        (Some(other), false) => format!("{formed} if {when} else {}", literal(other)),
        (None, false) => format!("{formed} if {when} else none"),
    }
}

fn base(meaning: &Meaning, words: &str) -> String {
    match meaning {
        Meaning::Actual(name) => format!("heaters.{name}.actual_celsius"),
        Meaning::Target(name) => format!("heaters.{name}.target_celsius"),
        Meaning::On(name) => format!("heaters.{name}.on"),
        Meaning::Progress => "job.progress_percent".to_owned(),
        Meaning::Elapsed => "job.elapsed_seconds".to_owned(),
        Meaning::Remaining => "job.remaining_seconds".to_owned(),
        Meaning::UpTime => "printer.up_time_seconds".to_owned(),
        Meaning::Clock => "printer.clock_unix_seconds".to_owned(),
        Meaning::Phase => format!("words.{words}[phase]"),
        Meaning::JobName => "job.name".to_owned(),
    }
}

fn filters(guess: &Guess) -> String {
    let unit = match guess.unit {
        Unit::Own => "",
        Unit::TenthsOfCelsius | Unit::PerMille => " | scale(10)",
        Unit::Fahrenheit => " | fahrenheit",
        Unit::Kelvin => " | kelvin",
        Unit::Fraction => " | fraction",
        Unit::Minutes => " | minutes",
        Unit::Hours => " | hours",
        Unit::Milliseconds => " | scale(1000)",
    };
    let form = match guess.form {
        None => String::new(),
        Some(Form::Number(0)) => " | whole".to_owned(),
        // Binary fractions of a sum have many; six are finer than any sensor.
        Some(Form::Number(decimals)) => format!(" | round({})", decimals.min(6)),
        Some(Form::Text(decimals)) => format!(" | fixed({})", decimals.min(6)),
        Some(Form::Clock) => " | hms".to_owned(),
        Some(Form::Duration) => " | duration".to_owned(),
    };
    format!("{unit}{form}")
}

/// Gives a value as the template language writes it.
pub(super) fn literal(value: &Value) -> String {
    match value {
        Value::Null => "none".to_owned(),
        Value::Bool(flag) => flag.to_string(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => quoted(text),
        // A list or an object that is empty is a leaf, too.
        other => other.to_string(),
    }
}

/// Gives text in single quotes.
pub(super) fn quoted(text: &str) -> String {
    let mut quoted = String::from("'");
    for letter in text.chars() {
        match letter {
            '\'' => quoted.push_str("\\'"),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            other => quoted.push(other),
        }
    }
    quoted.push('\'');
    quoted
}
