//! Filters that write a moment, seconds since 1970-01-01T00:00:00Z.

use std::time::{Duration, SystemTime};

use jiff::fmt::strtime;
use jiff::tz::{Offset, TimeZone};
use jiff::{Timestamp, Zoned};
use minijinja::value::Kwargs;
use minijinja::{Error, Value};

use super::take::{count, micros, number, refused, wrong};

filters!(
    rfc3339,
    http_date,
    internet_date,
    unix,
    unix_ms,
    format_time
);

/// The first second of the year 10000, which has one digit more than the forms have room for.
const YEAR_10000_S: u64 = 253_402_300_800;

/// Gives the moment; nothing for null and for one that is thousands of years away.
fn moment(value: &Value, filter: &str) -> Result<Option<Timestamp>, Error> {
    let micros = number(value, filter)?.and_then(micros);
    Ok(micros.and_then(|micros| Timestamp::from_microsecond(micros).ok()))
}

/// Gives the moment on a clock with an offset.
fn at(moment: Timestamp, offset: Offset) -> Zoned {
    moment.to_zoned(TimeZone::fixed(offset))
}

/// Gives the moment on a clock whose year has four digits.
fn with_plain_year(moment: Option<Timestamp>, offset: Offset) -> Option<Zoned> {
    moment
        .map(|moment| at(moment, offset))
        .filter(|zoned| (0..=9999).contains(&zoned.year()))
}

/// Is the arguments that were given by name.
struct Named(Kwargs);

impl Named {
    /// Gives an argument that stands in its place or by its name.
    fn or(&self, place: Option<Value>, name: &str) -> Result<Option<Value>, Error> {
        match place {
            Some(value) => Ok(Some(value)),
            None => self.0.get(name),
        }
    }

    /// Refuses names that nobody asked for.
    fn no_others(self) -> Result<(), Error> {
        self.0.assert_all_used()
    }
}

/// Reads an offset.
///
/// # Source
/// RFC 3339 section 5.6: time-numoffset, or Z.
fn offset(value: Option<&Value>, filter: &str) -> Result<Offset, Error> {
    let Some(value) = value else {
        return Ok(Offset::UTC);
    };
    let wrong = || {
        let takes = "an `offset` like '+01:00' or 'Z'";
        match value.as_str() {
            Some(text) => refused(format!("`{filter}` takes {takes}, not '{text}'")),
            None => wrong(filter, takes, value),
        }
    };
    let text = value.as_str().ok_or_else(wrong)?;
    offset_seconds(text)
        .and_then(|seconds| Offset::from_seconds(seconds).ok())
        .ok_or_else(wrong)
}

fn offset_seconds(text: &str) -> Option<i32> {
    let bytes = match text.as_bytes() {
        b"Z" => return Some(0),
        bytes @ [b'+' | b'-', _, _, b':', _, _] => bytes,
        _ => return None,
    };
    let two = |at: usize, limit: i32| {
        let digit = |byte: u8| char::from(byte).to_digit(10);
        let number = digit(bytes[at])? * 10 + digit(bytes[at + 1])?;
        i32::try_from(number).ok().filter(|number| *number < limit)
    };
    let seconds = two(1, 24)? * 3600 + two(4, 60)? * 60;
    Some(if bytes[0] == b'-' { -seconds } else { seconds })
}

/// Writes the form of RFC 3339.
///
/// # Source
/// RFC 3339 section 5.6.
fn rfc3339(
    value: &Value,
    at_offset: Option<Value>,
    places: Option<Value>,
    names: Kwargs,
) -> Result<Value, Error> {
    let names = Named(names);
    let at_offset = names.or(at_offset, "offset")?;
    let places = names.or(places, "places")?;
    names.no_others()?;
    let offset = offset(at_offset.as_ref(), "rfc3339")?;
    let places = match &places {
        Some(places) => count(places, "rfc3339", "places", 0..=9)?,
        None => 0,
    };
    let form = match (offset == Offset::UTC, places) {
        (true, 0) => "%Y-%m-%dT%H:%M:%SZ".to_owned(),
        (false, 0) => "%Y-%m-%dT%H:%M:%S%:z".to_owned(),
        (true, places) => format!("%Y-%m-%dT%H:%M:%S.%{places}fZ"),
        (false, places) => format!("%Y-%m-%dT%H:%M:%S.%{places}f%:z"),
    };
    let zoned = with_plain_year(moment(value, "rfc3339")?, offset);
    zoned.map_or(Ok(Value::from(())), |zoned| {
        written(&form, &zoned, "rfc3339")
    })
}

/// Writes the date of HTTP.
///
/// # Source
/// RFC 9110 section 5.6.7, IMF-fixdate.
fn http_date(value: &Value) -> Result<Value, Error> {
    let seconds = number(value, "http_date")?
        .and_then(micros)
        .and_then(|micros| u64::try_from(micros.div_euclid(1_000_000)).ok())
        .filter(|seconds| *seconds < YEAR_10000_S);
    Ok(seconds
        .map(|seconds| {
            httpdate::fmt_http_date(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds))
        })
        .into())
}

/// Writes the date of mail.
///
/// # Source
/// RFC 5322 section 3.3.
fn internet_date(value: &Value, at_offset: Option<Value>, names: Kwargs) -> Result<Value, Error> {
    let names = Named(names);
    let at_offset = names.or(at_offset, "offset")?;
    names.no_others()?;
    let offset = offset(at_offset.as_ref(), "internet_date")?;
    let zoned = with_plain_year(moment(value, "internet_date")?, offset);
    zoned.map_or(Ok(Value::from(())), |zoned| {
        written("%a, %d %b %Y %H:%M:%S %z", &zoned, "internet_date")
    })
}

/// Gives whole seconds.
fn unix(value: &Value) -> Result<Value, Error> {
    let micros = number(value, "unix")?.and_then(micros);
    Ok(micros.map(|micros| micros.div_euclid(1_000_000)).into())
}

/// Gives whole milliseconds.
fn unix_ms(value: &Value) -> Result<Value, Error> {
    let micros = number(value, "unix_ms")?.and_then(micros);
    Ok(micros.map(|micros| micros.div_euclid(1000)).into())
}

/// Writes a moment in the form that a text of `%` letters asks for.
fn format_time(
    value: &Value,
    format: &Value,
    at_offset: Option<Value>,
    names: Kwargs,
) -> Result<Value, Error> {
    let names = Named(names);
    let at_offset = names.or(at_offset, "offset")?;
    names.no_others()?;
    let offset = offset(at_offset.as_ref(), "format_time")?;
    let Some(form) = format.as_str() else {
        return Err(wrong("format_time", "text as `format`", format));
    };
    // A wrong form must show even while the value is null.
    written(form, &at(Timestamp::UNIX_EPOCH, offset), "format_time")?;
    match moment(value, "format_time")? {
        Some(moment) => written(form, &at(moment, offset), "format_time"),
        None => Ok(Value::from(())),
    }
}

fn written(form: &str, zoned: &Zoned, filter: &str) -> Result<Value, Error> {
    strtime::format(form, zoned)
        .map(Value::from)
        .map_err(|error| refused(format!("`{filter}` cannot write '{form}': {error}")))
}
