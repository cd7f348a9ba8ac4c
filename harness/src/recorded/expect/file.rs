//! The keys of a file of expectations, as they are written.

use indexmap::IndexMap;
use serde::Deserialize;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct File {
    #[serde(default)]
    pub(super) expect: Vec<ExpectRaw>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct ExpectRaw {
    pub(super) exchange: Option<u64>,
    pub(super) from: Option<String>,
    pub(super) until: Option<String>,
    pub(super) phase: Option<OneOrMore>,
    pub(super) progress_percent: Option<NumberRaw>,
    pub(super) elapsed_seconds: Option<NumberRaw>,
    pub(super) remaining_seconds: Option<NumberRaw>,
    pub(super) job_name: Option<OrUnknown<String>>,
    #[serde(default)]
    pub(super) heaters: IndexMap<String, HeaterRaw>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct HeaterRaw {
    pub(super) actual_celsius: Option<NumberRaw>,
    pub(super) target_celsius: Option<NumberRaw>,
    pub(super) on: Option<OrUnknown<bool>>,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum OneOrMore {
    One(String),
    More(Vec<String>),
}

#[derive(Debug, Deserialize)]
#[serde(
    untagged,
    expecting = "a number, { least = …, most = … }, or \"unknown\""
)]
pub(super) enum NumberRaw {
    One(f64),
    Range { least: f64, most: f64 },
    Word(String),
}

/// Is a value, or the word `unknown`.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum OrUnknown<T> {
    Unknown(UnknownWord),
    Known(T),
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum UnknownWord {
    Unknown,
}

impl<T> OrUnknown<T> {
    pub(super) fn known(self) -> Option<T> {
        match self {
            Self::Known(value) => Some(value),
            Self::Unknown(UnknownWord::Unknown) => None,
        }
    }
}
