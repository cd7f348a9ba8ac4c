//! A dialect file as written, before it is checked.
//!
//! The comment of each key is also what an editor shows, by way of the schema.

mod announce;
mod auth;
mod http;
mod mqtt;
mod push;
mod route;
mod spanned;
mod whole;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

pub(in crate::dialect) use self::http::{Cors, Http, Redirect};
pub(in crate::dialect) use announce::Announce;
pub(in crate::dialect) use auth::Auth;
pub(in crate::dialect) use mqtt::{Mqtt, Notice, Topic};
pub(in crate::dialect) use push::Push;
pub(in crate::dialect) use route::{Argument, QueryParameter, Refused, Route};
pub(in crate::dialect) use spanned::Spanned;
pub(in crate::dialect) use whole::{Layer, Whole, layers, own};

/// Is text with its place in the file.
pub(in crate::dialect) type Text = Spanned<String>;

/// Are word tables by name; a word may be a table of several fields.
pub(in crate::dialect) type Words = IndexMap<String, Spanned<IndexMap<String, toml::Value>>>;

/// Is [`Words`] as the schema knows them: a word may be any value.
type AnyWords = IndexMap<String, IndexMap<String, serde_json::Value>>;

/// A dialect: how one host puts the truth about its printer on the wire, in one version or several.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
#[schemars(rename = "Dialect")]
pub(in crate::dialect) struct File {
    /// What the host is called, for people.
    pub(in crate::dialect) title: Option<Text>,
    /// The name of the file's own version. Default `1.0`.
    pub(in crate::dialect) version: Option<Text>,
    /// How the host asks for its key.
    pub(in crate::dialect) auth: Auth,
    /// Header fields of every answer.
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    /// How every error is written.
    pub(in crate::dialect) problem: Problem,
    /// Tables of the host's own words, seen by expressions as `words.TABLE[WORD]`.
    #[serde(default)]
    #[schemars(with = "AnyWords")]
    pub(in crate::dialect) words: Words,
    /// Bodies by name that others include with `{% include 'NAME' %}`.
    #[serde(default)]
    pub(in crate::dialect) parts: IndexMap<String, Text>,
    /// How the host speaks HTTP.
    pub(in crate::dialect) http: Option<Http>,
    /// Paths that only lead elsewhere.
    #[serde(default)]
    pub(in crate::dialect) redirects: Vec<Redirect>,
    /// What the host answers, each method and path once (or several times with `match`).
    pub(in crate::dialect) routes: Vec<Spanned<Route>>,
    /// What the host publishes through a broker.
    pub(in crate::dialect) mqtt: Option<Spanned<Mqtt>>,
    /// How the host is announced in its network.
    pub(in crate::dialect) announce: Option<Announce>,
    /// Further versions of the host's software, in order: what an update changes.
    #[serde(default)]
    pub(in crate::dialect) versions: Vec<Spanned<Version>>,
}

/// What a version changes in the one it extends.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Version {
    /// Its name, such as `1.1`; no other version of the file has it.
    pub(in crate::dialect) name: Text,
    /// The earlier version that it changes. Default the one before.
    pub(in crate::dialect) extends: Option<Text>,
    /// In the place of the other version's, as a whole.
    pub(in crate::dialect) auth: Option<Auth>,
    /// Laid over the other version's, field by field.
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    /// In the place of the other version's, as a whole.
    pub(in crate::dialect) problem: Option<Problem>,
    /// Laid over the other version's, word by word.
    #[serde(default)]
    #[schemars(with = "AnyWords")]
    pub(in crate::dialect) words: Words,
    /// Laid over the other version's, part by part.
    #[serde(default)]
    pub(in crate::dialect) parts: IndexMap<String, Text>,
    /// New routes; one of the same method, path and `match` replaces the other version's.
    #[serde(default)]
    pub(in crate::dialect) routes: Vec<Spanned<Route>>,
    /// Routes of the other version that this one has no more, each as `GET /path`.
    #[serde(default)]
    pub(in crate::dialect) without: Vec<Text>,
    /// In the place of the other version's, as a whole.
    pub(in crate::dialect) http: Option<Http>,
    /// In the place of the other version's, all together.
    #[serde(default)]
    pub(in crate::dialect) redirects: Vec<Redirect>,
    /// In the place of the other version's, as a whole.
    pub(in crate::dialect) mqtt: Option<Spanned<Mqtt>>,
    /// In the place of the other version's, as a whole.
    pub(in crate::dialect) announce: Option<Announce>,
}

/// How every error is written.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Problem {
    /// The media type. Default `application/problem+json` (RFC 9457).
    pub(in crate::dialect) content_type: Option<Text>,
    /// Header fields of errors, over those of every answer.
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    /// JSON with expressions, which see `status`, `title`, `detail` and `pointer`.
    pub(in crate::dialect) body: Text,
}
