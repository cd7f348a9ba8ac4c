//! The watcher file as a JSON Schema, for editors.
//!
//! Made from the types that read a file, so that it cannot say anything else than they do. It knows
//! keys, types and fixed words; what depends on two keys at once only the reader knows.

use coldbed_mock::scenario::{as_toml_has_it, describe_only_keys};
use schemars::generate::SchemaSettings;
use serde_json::Value;

use super::WatcherFile;
use super::raw::File;

impl WatcherFile {
    /// Gives the JSON Schema (draft 2020-12) of watcher files.
    pub fn schema() -> Value {
        let settings = SchemaSettings::draft2020_12();
        let mut schema = settings.into_generator().into_root_schema_for::<File>();
        as_toml_has_it(&mut schema);
        describe_only_keys(&mut schema);
        schema.to_value()
    }
}
