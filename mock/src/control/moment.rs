//! Moments of virtual time as texts that are read back as exactly what they were.
//!
//! For `#[serde(with = "moment")]`.

use std::time::Duration;

use serde::{Deserialize, Deserializer, Serializer, de};

use crate::sim::VirtualTime;

/// Writes `1h 20m 3s 400ms`, to the nanosecond.
pub(super) fn serialize<S: Serializer>(at: &VirtualTime, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&words(*at))
}

pub(super) fn deserialize<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<VirtualTime, D::Error> {
    let text = String::deserialize(deserializer)?;
    read(&text).ok_or_else(|| {
        de::Error::custom(format_args!(
            "`{text}` is no moment [write it as the time since the start, such as \"1h20m\"]"
        ))
    })
}

/// Gives a moment as people write a span.
pub(crate) fn words(at: VirtualTime) -> String {
    // The end of time is further away than a span can be.
    let span =
        jiff::SignedDuration::try_from(at.since_start()).unwrap_or(jiff::SignedDuration::MAX);
    format!("{span:#}")
}

fn read(text: &str) -> Option<VirtualTime> {
    let span: jiff::SignedDuration = text.trim().parse().ok()?;
    Duration::try_from(span).ok().map(VirtualTime::new)
}
