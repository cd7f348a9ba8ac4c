//! Times as seconds with microseconds, as they stand in the file.

use std::time::Duration;

use serde::{Deserialize, Deserializer, Serializer, de};

/// The longest a session lasts: 100 years, so that every time is exact to the microsecond as a number.
pub(crate) const LONGEST: Duration = Duration::from_secs(3_200_000_000);

pub(super) fn serialize<S: Serializer>(time: &Duration, serializer: S) -> Result<S::Ok, S::Error> {
    // Microseconds are whole numbers below 2^53, so that the division is the nearest number to them.
    #[expect(clippy::cast_precision_loss, reason = "below 2^53 for 285 years")]
    let seconds = time.as_micros() as f64 / 1e6;
    serializer.serialize_f64(seconds)
}

pub(super) fn deserialize<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Duration, D::Error> {
    let seconds = f64::deserialize(deserializer)?;
    let longest = LONGEST.as_secs_f64();
    if !(0.0..=longest).contains(&seconds) {
        return Err(de::Error::custom(format!(
            "time {seconds} is not within 0 and {longest} seconds"
        )));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "within the range above"
    )]
    let micros = (seconds * 1e6).round() as u64;
    Ok(Duration::from_micros(micros))
}
