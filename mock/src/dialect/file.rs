//! A dialect file as written, before it is checked.

use indexmap::IndexMap;
use serde::Deserialize;
use toml::Spanned;

/// Is text with its place in the file.
pub(super) type Text = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct File {
    pub(super) auth: Auth,
    #[serde(default)]
    pub(super) headers: IndexMap<String, Text>,
    pub(super) problem: Problem,
    #[serde(default)]
    pub(super) words: IndexMap<String, Spanned<IndexMap<String, toml::Value>>>,
    #[serde(default)]
    pub(super) parts: IndexMap<String, Text>,
    pub(super) routes: Vec<Spanned<Route>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Auth {
    pub(super) scheme: Text,
    pub(super) realm: Option<Text>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Problem {
    pub(super) content_type: Option<Text>,
    #[serde(default)]
    pub(super) headers: IndexMap<String, Text>,
    pub(super) body: Text,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Route {
    pub(super) method: Text,
    pub(super) path: Text,
    pub(super) status: Option<Spanned<u16>>,
    pub(super) content_type: Option<Text>,
    #[serde(default)]
    pub(super) headers: IndexMap<String, Text>,
    pub(super) exists: Option<Text>,
    pub(super) missing: Option<Text>,
    pub(super) body: Option<Text>,
    pub(super) command: Option<Text>,
    pub(super) arguments: Option<Spanned<IndexMap<String, Spanned<Argument>>>>,
    pub(super) push: Option<Spanned<Push>>,
}

/// Has exactly one of its fields.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Argument {
    pub(super) path: Option<String>,
    pub(super) body: Option<String>,
    pub(super) value: Option<toml::Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Push {
    pub(super) form: Text,
    pub(super) period_ms: Spanned<u64>,
    pub(super) keep_alive_s: Option<Spanned<u64>>,
    pub(super) retry_ms: Option<Spanned<u64>>,
}
