//! Filters that write a span of seconds.

use minijinja::{Error, Value};

use super::take::{self, micros, number};

filters!(hms, hm, duration, milliseconds);

/// Is a span in the parts that people read.
struct Parts {
    is_negative: bool,
    hours: u64,
    minutes: u64,
    seconds: u64,
}

impl Parts {
    fn is_zero(&self) -> bool {
        (self.hours, self.minutes, self.seconds) == (0, 0, 0)
    }

    fn sign(&self) -> &'static str {
        if self.is_negative && !self.is_zero() {
            "-"
        } else {
            ""
        }
    }
}

/// Takes a span apart; fractions of a second are cut off.
fn parts(value: &Value, filter: &str) -> Result<Option<Parts>, Error> {
    Ok(number(value, filter)?.and_then(micros).map(|micros| {
        let seconds = micros.unsigned_abs() / 1_000_000;
        Parts {
            is_negative: micros < 0,
            hours: seconds / 3600,
            minutes: seconds / 60 % 60,
            seconds: seconds % 60,
        }
    }))
}

/// Writes hours, minutes and seconds.
fn hms(value: &Value) -> Result<Value, Error> {
    let parts = parts(value, "hms")?;
    Ok(parts
        .map(|parts| {
            let sign = parts.sign();
            let (hours, minutes, seconds) = (parts.hours, parts.minutes, parts.seconds);
            format!("{sign}{hours:02}:{minutes:02}:{seconds:02}")
        })
        .into())
}

/// Writes hours and minutes.
fn hm(value: &Value) -> Result<Value, Error> {
    let parts = parts(value, "hm")?;
    Ok(parts
        .map(|parts| {
            let shown = Parts {
                seconds: 0,
                ..parts
            };
            format!("{}{:02}:{:02}", shown.sign(), shown.hours, shown.minutes)
        })
        .into())
}

/// Writes a duration of ISO 8601. Its standard has a sign only since 2019 (part 2; from memory).
///
/// # Source
/// RFC 3339 appendix A: after hours come minutes, if seconds are to follow.
fn duration(value: &Value) -> Result<Value, Error> {
    let parts = parts(value, "duration")?;
    Ok(parts
        .map(|parts| {
            let mut text = format!("{}PT", parts.sign());
            if parts.hours > 0 {
                text += &format!("{}H", parts.hours);
            }
            if parts.minutes > 0 || parts.hours > 0 && parts.seconds > 0 {
                text += &format!("{}M", parts.minutes);
            }
            if parts.seconds > 0 || parts.is_zero() {
                text += &format!("{}S", parts.seconds);
            }
            text
        })
        .into())
}

/// Gives milliseconds as an integer.
fn milliseconds(value: &Value) -> Result<Value, Error> {
    Ok(take::whole(
        number(value, "milliseconds")?.map(|seconds| (seconds * 1000.0).round()),
    ))
}
