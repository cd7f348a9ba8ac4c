//! The dialect language as a JSON Schema, for editors.
//!
//! Made from the types that read a dialect, so that it cannot say anything else than they do. It
//! knows keys, types, fixed words and ranges; what depends on two keys at once, and what a body
//! says, only the reader knows.

use schemars::generate::SchemaSettings;
use serde_json::Value;

use super::DialectFile;
use super::file::File;
use crate::scenario::as_toml_has_it;

impl DialectFile {
    /// Gives the JSON Schema (draft 2020-12) of dialect files.
    pub fn schema() -> Value {
        let settings = SchemaSettings::draft2020_12();
        let mut schema = settings.into_generator().into_root_schema_for::<File>();
        as_toml_has_it(&mut schema);
        schema.to_value()
    }
}
