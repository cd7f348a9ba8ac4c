//! The same numbers in another form.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{NumberForm, Pen};
use crate::drift::spot::DriftMiss;

/// Writes the numbers at the pointer with an exponent: `1e2` for `100`. Compatible.
///
/// # Source
/// RFC 8259 section 6: a number may have an exponent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExponentNumbers;

impl Kind for ExponentNumbers {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has its numbers with an exponent, such as 1e2 for 100")
    }
}

impl Spelling for ExponentNumbers {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark_any(pointer)?.numbers = Some(NumberForm::Exponent);
        Ok(())
    }
}

/// Writes the whole numbers at the pointer with a decimal point: `21.0` for `21`. Compatible.
///
/// # Source
/// RFC 8259 section 6: a number may have a fraction part; JSON has one type of number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DecimalPoint;

impl Kind for DecimalPoint {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has its whole numbers with a decimal point, such as 21.0 for 21")
    }
}

impl Spelling for DecimalPoint {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark_any(pointer)?.numbers = Some(NumberForm::DecimalPoint);
        Ok(())
    }
}
