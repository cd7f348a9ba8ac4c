//! A drift as it is written in a file.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Deserialize;

use super::{Change, Drift, DriftClass, DriftMiss, Stage};
use crate::pointer;

/// A change of a body against its dialect.
#[derive(Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Drift")]
pub(super) struct Written {
    /// The place, as a JSON Pointer (RFC 6901) into the body: `/job/progress`. Default the whole
    /// body.
    #[serde(default)]
    #[schemars(pattern(r"^(/([^~]|~[01])*)?$"))]
    pointer: String,
    /// What happens there: the name of a change, or a table with it and its parameters.
    change: Change,
    /// A name for reports. Default the name of the change.
    name: Option<String>,
    /// What a client owes when it happens. Default what the change suggests.
    class: Option<DriftClass>,
}

impl TryFrom<Written> for Drift {
    type Error = DriftMiss;

    fn try_from(written: Written) -> Result<Self, DriftMiss> {
        let pointer = written.pointer;
        if !pointer::is_pointer(&pointer) {
            return Err(DriftMiss::NoPointer { pointer });
        }
        if written.change.stage() == Stage::Form && !pointer.is_empty() {
            return Err(DriftMiss::NotWhole { pointer });
        }
        let suggested = Self::of(pointer, written.change);
        suggested.check()?;
        Ok(Self {
            name: written.name.unwrap_or(suggested.name),
            class: written.class.unwrap_or(suggested.class),
            ..suggested
        })
    }
}

impl JsonSchema for Drift {
    fn schema_name() -> Cow<'static, str> {
        Written::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Written::json_schema(generator)
    }
}
