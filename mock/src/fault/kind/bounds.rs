//! What the keys of faults may be.

use std::fmt;

use http::StatusCode;
use serde::{Deserialize, Deserializer, Serializer, de};

pub(super) fn found() -> StatusCode {
    StatusCode::FOUND
}

pub(super) fn processing() -> u16 {
    StatusCode::PROCESSING.as_u16()
}

pub(super) fn one() -> u32 {
    1
}

pub(super) mod status_code {
    use super::*;

    pub(in super::super) fn serialize<S: Serializer>(
        code: &StatusCode,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        serializer.serialize_u16(code.as_u16())
    }

    pub(in super::super) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<StatusCode, D::Error> {
        let code = u16::deserialize(deserializer)?;
        StatusCode::from_u16(code)
            .ok()
            .filter(|_| (200..=599).contains(&code))
            .ok_or_else(|| {
                de::Error::custom(format_args!("{code} is no final status [200 to 599]"))
            })
    }
}

pub(super) mod redirection_code {
    pub(in super::super) use super::status_code::serialize;
    use super::*;

    pub(in super::super) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<StatusCode, D::Error> {
        let code = super::status_code::deserialize(deserializer)?;
        match code.as_u16() {
            301 | 302 | 303 | 307 | 308 => Ok(code),
            other => Err(de::Error::custom(format_args!(
                "{other} is no redirection [301, 302, 303, 307 or 308]"
            ))),
        }
    }
}

pub(super) fn origin<'de, D: Deserializer<'de>>(deserializer: D) -> Result<String, D::Error> {
    let text = String::deserialize(deserializer)?;
    let is_origin = text.parse::<http::Uri>().is_ok_and(|uri| {
        matches!(uri.scheme_str(), Some("http" | "https"))
            && uri.authority().is_some()
            && matches!(uri.path(), "" | "/")
            && uri.query().is_none()
    });
    if is_origin {
        return Ok(text.trim_end_matches('/').to_owned());
    }
    Err(de::Error::custom(format_args!(
        "`{text}` is no origin [write scheme, host and port: \"http://198.51.100.7:8080\"]"
    )))
}

pub(super) fn skew<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    let ahead_s = f64::deserialize(deserializer)?;
    if ahead_s.abs() <= 1e9 {
        return Ok(ahead_s);
    }
    Err(de::Error::custom("a clock is wrong by at most 1e9 seconds"))
}

fn within<'de, D, T>(deserializer: D, low: T, high: T) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
    T: Deserialize<'de> + PartialOrd + fmt::Display + Copy,
{
    let number = T::deserialize(deserializer)?;
    if number >= low && number <= high {
        return Ok(number);
    }
    Err(de::Error::custom(format_args!(
        "{number} is not from {low} to {high}"
    )))
}

pub(super) fn huge<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u32, D::Error> {
    within(deserializer, 1, 16 * 1024 * 1024)
}

pub(super) fn few<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u32, D::Error> {
    within(deserializer, 1, 1000)
}

pub(super) fn positive<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u64, D::Error> {
    within(deserializer, 1, u64::MAX)
}

pub(super) fn interim_code<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u16, D::Error> {
    match u16::deserialize(deserializer)? {
        101 => Err(de::Error::custom(
            "101 ends HTTP on the connection and is no interim answer here [100, or 102 to 199]",
        )),
        code if (100..=199).contains(&code) => Ok(code),
        code => Err(de::Error::custom(format_args!(
            "{code} is no interim status [100, or 102 to 199]"
        ))),
    }
}

/// Takes the codes that may stand in a close frame.
///
/// # Source
/// RFC 6455 section 7.4: 1000 to 4999, of which 1004, 1005, 1006 and 1015 must not be sent.
pub(super) fn close_code<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<u16>, D::Error> {
    match Option::<u16>::deserialize(deserializer)? {
        None => Ok(None),
        Some(code @ (1004..=1006 | 1015)) => Err(de::Error::custom(format_args!(
            "{code} is never sent in a close frame"
        ))),
        Some(code) if (1000..=4999).contains(&code) => Ok(Some(code)),
        Some(code) => Err(de::Error::custom(format_args!(
            "{code} is no close code [1000 to 4999]"
        ))),
    }
}
