//! A dialect file as written, before it is checked.

mod push;

use indexmap::IndexMap;
use serde::Deserialize;
use toml::Spanned;

pub(in crate::dialect) use push::Push;

/// Is text with its place in the file.
pub(in crate::dialect) type Text = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct File {
    pub(in crate::dialect) auth: Auth,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) problem: Problem,
    #[serde(default)]
    pub(in crate::dialect) words: IndexMap<String, Spanned<IndexMap<String, toml::Value>>>,
    #[serde(default)]
    pub(in crate::dialect) parts: IndexMap<String, Text>,
    pub(in crate::dialect) routes: Vec<Spanned<Route>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Auth {
    pub(in crate::dialect) scheme: Text,
    pub(in crate::dialect) realm: Option<Text>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Problem {
    pub(in crate::dialect) content_type: Option<Text>,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) body: Text,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Route {
    pub(in crate::dialect) method: Text,
    pub(in crate::dialect) path: Text,
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    pub(in crate::dialect) content_type: Option<Text>,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) exists: Option<Text>,
    pub(in crate::dialect) missing: Option<Text>,
    pub(in crate::dialect) body: Option<Text>,
    pub(in crate::dialect) command: Option<Text>,
    pub(in crate::dialect) arguments: Option<Spanned<IndexMap<String, Spanned<Argument>>>>,
    pub(in crate::dialect) push: Option<Spanned<Push>>,
}

/// Has exactly one of its fields.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Argument {
    pub(in crate::dialect) path: Option<String>,
    pub(in crate::dialect) body: Option<String>,
    pub(in crate::dialect) value: Option<toml::Value>,
}
