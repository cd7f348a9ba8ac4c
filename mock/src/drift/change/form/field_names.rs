//! Field names in other letters.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Form, Kind};
use crate::drift::form::{FieldCase, FormChange};

/// Writes the field names of answers in another letter case. Compatible.
///
/// # Source
/// RFC 9110 section 5.1: field names are case-insensitive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct FieldNames {
    /// The letter case.
    pub case: FieldCase,
}

impl Kind for FieldNames {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        let like = self.fields()[1].split(':').next().unwrap_or_default();
        format!("{place} has its field names written like `{like}`")
    }
}

impl Form for FieldNames {
    fn form(&self) -> FormChange {
        FormChange {
            field_case: Some(self.case),
            ..FormChange::default()
        }
    }

    fn fields(&self) -> [&'static str; 2] {
        match self.case {
            FieldCase::Lower => [
                "Content-Type: application/json",
                "content-type: application/json",
            ],
            FieldCase::Title => [
                "content-type: application/json",
                "Content-Type: application/json",
            ],
            FieldCase::Upper => [
                "content-type: application/json",
                "CONTENT-TYPE: application/json",
            ],
        }
    }
}
