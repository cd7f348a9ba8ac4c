//! A value that knows its place in the file, and that an editor's schema sees as the value alone.

use std::borrow::Cow;
use std::ops::Deref;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Deserialize;

/// Is [`toml::Spanned`] with a schema, which a foreign type cannot be given.
#[derive(Debug, Clone, Deserialize)]
#[serde(transparent)]
pub(super) struct Spanned<T>(toml::Spanned<T>);

impl<T> Spanned<T> {
    /// Gives the value.
    pub(super) fn get_ref(&self) -> &T {
        self.0.get_ref()
    }
}

impl<T> Deref for Spanned<T> {
    type Target = toml::Spanned<T>;

    fn deref(&self) -> &toml::Spanned<T> {
        &self.0
    }
}

impl<T: JsonSchema> JsonSchema for Spanned<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<T>()
    }
}
