//! A number written as a text, and the other way round.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Number, Value};

use super::{Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Makes the number at the pointer a text: `21.5` -> `"21.5"`. Breaking.
///
/// # Source
/// RFC 8259 section 3: a text is another type than a number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NumberAsText;

impl Kind for NumberAsText {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is a text with the number in it")
    }
}

impl Shape for NumberAsText {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let miss = spot.wrong_kind("a number");
        let value = spot.value()?;
        let text = value.as_number().ok_or(miss)?.to_string();
        *value = Value::String(text);
        Ok(())
    }
}

/// Makes the text at the pointer, which is a number, one: `"21.5"` -> `21.5`. Breaking.
///
/// # Source
/// RFC 8259 section 3: a text is another type than a number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TextAsNumber;

impl Kind for TextAsNumber {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is the number that was a text")
    }
}

impl Shape for TextAsNumber {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let miss = spot.wrong_kind("a text with a number in it");
        let value = spot.value()?;
        let number = value
            .as_str()
            .and_then(|text| serde_json::from_str::<Number>(text).ok());
        *value = Value::Number(number.ok_or(miss)?);
        Ok(())
    }
}
