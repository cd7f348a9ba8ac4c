//! A dialect file as written, before it is checked.

mod announce;
mod auth;
mod http;
mod mqtt;
mod push;
mod route;
mod whole;

use indexmap::IndexMap;
use serde::Deserialize;
use toml::Spanned;

pub(in crate::dialect) use self::http::{Cors, Http, Redirect};
pub(in crate::dialect) use announce::Announce;
pub(in crate::dialect) use auth::Auth;
pub(in crate::dialect) use mqtt::{Mqtt, Notice, Topic};
pub(in crate::dialect) use push::Push;
pub(in crate::dialect) use route::{Argument, QueryParameter, Refused, Route};
pub(in crate::dialect) use whole::{Layer, Whole, layers, own};

/// Is text with its place in the file.
pub(in crate::dialect) type Text = Spanned<String>;

/// Are word tables by name; a word may be a table of several fields.
pub(in crate::dialect) type Words = IndexMap<String, Spanned<IndexMap<String, toml::Value>>>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct File {
    pub(in crate::dialect) title: Option<Text>,
    pub(in crate::dialect) version: Option<Text>,
    pub(in crate::dialect) auth: Auth,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) problem: Problem,
    #[serde(default)]
    pub(in crate::dialect) words: Words,
    #[serde(default)]
    pub(in crate::dialect) parts: IndexMap<String, Text>,
    pub(in crate::dialect) http: Option<Http>,
    #[serde(default)]
    pub(in crate::dialect) redirects: Vec<Redirect>,
    pub(in crate::dialect) routes: Vec<Spanned<Route>>,
    pub(in crate::dialect) mqtt: Option<Spanned<Mqtt>>,
    pub(in crate::dialect) announce: Option<Announce>,
    #[serde(default)]
    pub(in crate::dialect) versions: Vec<Spanned<Version>>,
}

/// Is what a version changes in the one it extends.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Version {
    pub(in crate::dialect) name: Text,
    pub(in crate::dialect) extends: Option<Text>,
    pub(in crate::dialect) auth: Option<Auth>,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) problem: Option<Problem>,
    #[serde(default)]
    pub(in crate::dialect) words: Words,
    #[serde(default)]
    pub(in crate::dialect) parts: IndexMap<String, Text>,
    #[serde(default)]
    pub(in crate::dialect) routes: Vec<Spanned<Route>>,
    #[serde(default)]
    pub(in crate::dialect) without: Vec<Text>,
    pub(in crate::dialect) http: Option<Http>,
    #[serde(default)]
    pub(in crate::dialect) redirects: Vec<Redirect>,
    pub(in crate::dialect) mqtt: Option<Spanned<Mqtt>>,
    pub(in crate::dialect) announce: Option<Announce>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Problem {
    pub(in crate::dialect) content_type: Option<Text>,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) body: Text,
}
