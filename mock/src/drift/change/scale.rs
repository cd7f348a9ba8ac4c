//! A number in another unit.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Number, Value};

use super::{Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Multiplies the number at the pointer, and adds: a fraction for a percentage, milliseconds for
/// seconds, Fahrenheit for Celsius (factor 1.8, offset 32). Breaking.
///
/// # Source
/// Common practice: which unit a number is in is between host and client, and nothing in JSON says
/// it (RFC 8259 section 6 has numbers only). That a ratio is another unit than a percentage: RFC
/// 8428 section 12.1, `/` and `%`. Fahrenheit: NIST SP 811 appendix B.8, from memory.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Scale {
    /// What the number is multiplied by, in new units for one old unit.
    pub factor: f64,
    /// What is added then, in new units. Default 0.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub offset: f64,
}

fn is_nothing(offset: &f64) -> bool {
    matches!(offset, 0.0)
}

/// Whole numbers up to here stay whole ones.
///
/// # Source
/// RFC 8259 section 6: every integer between -(2^53)+1 and 2^53-1 is safe.
const GREATEST_SAFE: f64 = 9_007_199_254_740_991.0;

impl Kind for Scale {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        let Self { factor, offset } = self;
        match offset {
            0.0 => format!("{place} is {factor} times what it was"),
            _ => format!("{place} is {factor} times what it was, plus {offset}"),
        }
    }

    fn check(&self) -> Result<(), DriftMiss> {
        match [self.factor, self.offset]
            .into_iter()
            .find(|number| !number.is_finite())
        {
            Some(number) => Err(DriftMiss::NoNumber {
                text: number.to_string(),
            }),
            None => Ok(()),
        }
    }
}

impl Shape for Scale {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let miss = spot.wrong_kind("a number");
        let value = spot.value()?;
        let number = value.as_number().ok_or(miss)?;
        let scaled = number.as_f64().unwrap_or(f64::NAN) * self.factor + self.offset;
        let stays_whole = !number.is_f64() && scaled.fract() == 0.0;
        let scaled = if stays_whole && scaled.abs() <= GREATEST_SAFE {
            // Whole and within 2^53: nothing is cut off.
            Number::from(scaled as i64)
        } else {
            let text = scaled.to_string();
            Number::from_f64(scaled).ok_or(DriftMiss::NoNumber { text })?
        };
        *value = Value::Number(scaled);
        Ok(())
    }
}
