//! The names of all faults.

use schemars::SchemaGenerator;
use serde_json::Value;

use super::Fault;

impl Fault {
    /// Gives the names of all faults, as [`Fault::name`] does, in the order of their definition.
    pub fn names() -> Vec<String> {
        let schema = SchemaGenerator::default().into_root_schema_for::<Fault>();
        let mut names = Vec::new();
        // The derive knows the names: words where a fault needs nothing, else the only key.
        for variant in schema
            .get("oneOf")
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
        {
            let words = variant.get("enum").and_then(Value::as_array);
            let word = variant.get("const");
            let keys = variant.get("properties").and_then(Value::as_object);
            names.extend(
                words
                    .into_iter()
                    .flatten()
                    .chain(word)
                    .filter_map(Value::as_str)
                    .map(str::to_owned),
            );
            names.extend(keys.into_iter().flat_map(|keys| keys.keys().cloned()));
        }
        names
    }
}
