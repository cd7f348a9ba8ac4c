//! A change as it is written in a file: its name, or a table with its name and parameters.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::{MapDeserializer, UnitDeserializer};
use serde::de::{DeserializeSeed, Error, MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::Value;

use super::Change;

/// Makes a change be read, written and described, given the list of all kinds.
macro_rules! written {
    ($($kind:ident,)*) => {
        impl Change {
            fn read<'de, D>(name: &str, parameters: D) -> Result<Self, D::Error>
            where
                D: serde::Deserializer<'de>,
            {
                $(
                    if name == kebab_case(stringify!($kind)) {
                        return read::parameters::<$kind, D>(parameters).map(Self::$kind);
                    }
                )*
                Err(read::unknown(name))
            }

            fn write<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                match self {
                    $(Self::$kind(kind) => read::write(&self.name(), kind, serializer),)*
                }
            }

            fn schemas(generator: &mut schemars::SchemaGenerator) -> Vec<schemars::Schema> {
                let mut schemas = Vec::new();
                $(
                    let name = kebab_case(stringify!($kind));
                    read::describe::<$kind>(&name, generator, &mut schemas);
                )*
                schemas
            }
        }
    };
}

pub(super) use written;

/// Is what a kind without parameters has.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, expecting = "no parameters")]
struct NoParameters {}

fn has_parameters<K>() -> bool {
    size_of::<K>() > 0
}

/// Reads the parameters of a kind.
pub(super) fn parameters<'de, K, D>(parameters: D) -> Result<K, D::Error>
where
    K: Deserialize<'de>,
    D: Deserializer<'de>,
{
    if has_parameters::<K>() {
        return K::deserialize(parameters);
    }
    NoParameters::deserialize(parameters)?;
    K::deserialize(UnitDeserializer::new())
}

pub(super) fn unknown<E: Error>(name: &str) -> E {
    let names = Change::names();
    let near = names
        .iter()
        .map(|known| (strsim::jaro_winkler(known, name), known))
        .max_by(|(one, _), (other, _)| one.total_cmp(other))
        .filter(|(likeness, _)| *likeness > 0.8);
    E::custom(match near {
        Some((_, near)) => format!("there is no change `{name}` (did you mean `{near}`?)"),
        None => format!("there is no change `{name}` (docs/drifts.md lists them)"),
    })
}

pub(super) fn write<K, S>(name: &str, kind: &K, serializer: S) -> Result<S::Ok, S::Error>
where
    K: Serialize,
    S: Serializer,
{
    if !has_parameters::<K>() {
        return serializer.serialize_str(name);
    }
    let mut table = serializer.serialize_map(Some(1))?;
    table.serialize_entry(name, kind)?;
    table.end()
}

/// Adds what may stand in a file for a kind: its name where it needs no parameters, and a table with
/// them where it has any.
pub(super) fn describe<K: JsonSchema + for<'de> Deserialize<'de>>(
    name: &str,
    generator: &mut SchemaGenerator,
    schemas: &mut Vec<Schema>,
) {
    let inner = K::json_schema(generator);
    let description = inner.get("description").cloned().unwrap_or_default();
    let none = MapDeserializer::<_, serde_json::Error>::new(std::iter::empty::<(&str, &str)>());
    if parameters::<K, _>(none).is_ok() {
        schemas.push(json_schema!({ "const": name, "description": description }));
    }
    if has_parameters::<K>() {
        schemas.push(json_schema!({
            "type": "object",
            "description": description,
            "properties": { name: inner },
            "required": [name],
            "additionalProperties": false,
        }));
    }
}

impl Serialize for Change {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.write(serializer)
    }
}

impl<'de> Deserialize<'de> for Change {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader)
    }
}

struct Reader;

impl<'de> Visitor<'de> for Reader {
    type Value = Change;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the name of a change, or a table with it and its parameters")
    }

    fn visit_str<E: Error>(self, name: &str) -> Result<Change, E> {
        let none = std::iter::empty::<(&str, &str)>();
        Change::read(name, MapDeserializer::<_, E>::new(none))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut table: A) -> Result<Change, A::Error> {
        let Some(name) = table.next_key::<String>()? else {
            return Err(A::Error::custom("the change has no name"));
        };
        let change = table.next_value_seed(Parameters { name: &name })?;
        match table.next_key::<String>()? {
            None => Ok(change),
            Some(other) => Err(A::Error::custom(format!(
                "one drift makes one change, and has `{name}` and `{other}`"
            ))),
        }
    }
}

struct Parameters<'n> {
    name: &'n str,
}

impl<'de> DeserializeSeed<'de> for Parameters<'_> {
    type Value = Change;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Change, D::Error> {
        Change::read(self.name, deserializer)
    }
}

impl JsonSchema for Change {
    fn schema_name() -> Cow<'static, str> {
        "Change".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let kinds: Vec<Value> = Self::schemas(generator)
            .into_iter()
            .map(Value::from)
            .collect();
        json_schema!({ "oneOf": kinds })
    }
}
