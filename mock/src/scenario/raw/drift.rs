//! One drift.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::super::quantity::At;
use crate::drift::{Change, DriftClass};

/// A change of bodies against the dialect.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Drift")]
pub(in super::super) struct RawDrift {
    /// The place in the body, a JSON Pointer (RFC 6901).
    #[schemars(regex(pattern = "^(/.*)?$"))]
    pub(in super::super) pointer: At<String>,
    /// What happens there, the name of a change or a table of its name and what it needs.
    pub(in super::super) change: At<Change>,
    /// What a watcher owes then. Default what the change suggests.
    #[serde(default)]
    #[schemars(schema_with = "class")]
    pub(in super::super) class: Option<At<DriftClass>>,
}

fn class(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "string", "enum": ["compatible", "breaking", "hostile"] })
}
