//! One route, as written.

use indexmap::IndexMap;
use serde::Deserialize;
use toml::Spanned;

use super::{Push, Text};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Route {
    pub(in crate::dialect) method: Text,
    pub(in crate::dialect) path: Text,
    #[serde(rename = "match")]
    pub(in crate::dialect) matches: Option<Spanned<Match>>,
    #[serde(default)]
    pub(in crate::dialect) query: IndexMap<String, Spanned<QueryParameter>>,
    #[serde(default)]
    pub(in crate::dialect) open: bool,
    pub(in crate::dialect) summary: Option<Text>,
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    pub(in crate::dialect) content_type: Option<Text>,
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    pub(in crate::dialect) exists: Option<Text>,
    pub(in crate::dialect) missing: Option<Text>,
    pub(in crate::dialect) missing_status: Option<Spanned<u16>>,
    pub(in crate::dialect) body: Option<Text>,
    pub(in crate::dialect) text: Option<Text>,
    pub(in crate::dialect) base64: Option<Text>,
    pub(in crate::dialect) file: Option<Text>,
    pub(in crate::dialect) answer_after_ms: Option<Spanned<u64>>,
    pub(in crate::dialect) command: Option<Text>,
    pub(in crate::dialect) arguments: Option<Spanned<IndexMap<String, Spanned<Argument>>>>,
    pub(in crate::dialect) when: Option<Text>,
    pub(in crate::dialect) again: Option<Text>,
    pub(in crate::dialect) effect_after_ms: Option<Spanned<u64>>,
    pub(in crate::dialect) idempotency_key: Option<Text>,
    pub(in crate::dialect) refused: Option<Spanned<Refused>>,
    pub(in crate::dialect) log_in: Option<Spanned<LogIn>>,
    #[serde(default)]
    pub(in crate::dialect) log_out: bool,
    pub(in crate::dialect) push: Option<Spanned<Push>>,
}

/// Says which requests for a path are meant, where the path alone does not.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Match {
    #[serde(default)]
    pub(in crate::dialect) query: IndexMap<String, String>,
    /// Values by JSON Pointer.
    #[serde(default)]
    pub(in crate::dialect) body: IndexMap<String, toml::Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct QueryParameter {
    pub(in crate::dialect) default: Option<String>,
    #[serde(default)]
    pub(in crate::dialect) required: bool,
    pub(in crate::dialect) one_of: Option<Vec<String>>,
}

/// Has exactly one of its fields.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Argument {
    pub(in crate::dialect) path: Option<String>,
    pub(in crate::dialect) query: Option<String>,
    pub(in crate::dialect) form: Option<String>,
    pub(in crate::dialect) header: Option<String>,
    pub(in crate::dialect) body: Option<String>,
    pub(in crate::dialect) value: Option<toml::Value>,
    pub(in crate::dialect) expression: Option<Text>,
}

/// Says what a request is answered that is understood and not followed.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Refused {
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    pub(in crate::dialect) content_type: Option<Text>,
    pub(in crate::dialect) body: Option<Text>,
}

/// Says where a log-in call has the key, and the user's name if one is asked for.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct LogIn {
    pub(in crate::dialect) key: Spanned<Argument>,
    pub(in crate::dialect) user: Option<Spanned<Argument>>,
}
