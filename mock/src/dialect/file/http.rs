//! How the host speaks HTTP, as written.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Spanned, Text};

/// How the host speaks HTTP.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Http {
    /// The version in its answers: `1.0` closes the connection after each (RFC 9112). Default `1.1`.
    #[schemars(extend("enum" = ["1.0", "1.1"]))]
    pub(in crate::dialect) version: Option<Text>,
    /// `false` closes the connection after each answer. Default `true`.
    pub(in crate::dialect) keep_alive: Option<Spanned<bool>>,
    /// After how many answers a connection is closed. Default never.
    pub(in crate::dialect) keep_alive_requests: Option<Spanned<u64>>,
    /// After how much silence a connection is closed, in seconds of real time. Default never.
    pub(in crate::dialect) keep_alive_idle_s: Option<Spanned<u64>>,
    /// How the length of a body is told (RFC 9112 section 6). Default `content-length`.
    #[schemars(extend("enum" = ["content-length", "chunked"]))]
    pub(in crate::dialect) length: Option<Text>,
    /// When bodies are compressed (RFC 9110 section 8.4.1.3). Default `never`.
    #[schemars(extend("enum" = ["never", "when-asked", "always"]))]
    pub(in crate::dialect) gzip: Option<Text>,
    /// How header fields are spelt. Default `lower`.
    #[schemars(extend("enum" = ["lower", "title"]))]
    pub(in crate::dialect) header_case: Option<Text>,
    /// `false` leaves the `Date` field out. Default `true`.
    pub(in crate::dialect) date: Option<Spanned<bool>>,
    /// How much the `Date` field runs ahead, in seconds; behind if negative. Default 0.
    pub(in crate::dialect) date_skew_s: Option<Spanned<i64>>,
    /// `false` does without the `Host` field. Default `true` (RFC 9112 section 3.2).
    pub(in crate::dialect) host_field: Option<bool>,
    /// What scripts of other origins may do (WHATWG Fetch, "CORS protocol"). Default nothing.
    pub(in crate::dialect) cors: Option<Cors>,
}

/// What scripts of other origins may do.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Cors {
    /// The origins that are let in, or `*` for all.
    pub(in crate::dialect) origins: Option<Vec<Text>>,
    /// The request fields they may send.
    pub(in crate::dialect) headers: Option<Vec<Text>>,
    /// The methods they may use. Default those of the path.
    pub(in crate::dialect) methods: Option<Vec<Text>>,
    /// The answer fields they may read.
    pub(in crate::dialect) expose: Option<Vec<Text>>,
    /// Whether they may send credentials; not with `*`. Default `false`.
    pub(in crate::dialect) credentials: Option<Spanned<bool>>,
    /// How long a browser may remember this, in seconds.
    pub(in crate::dialect) max_age_s: Option<Spanned<u64>>,
}

/// A path that only leads elsewhere (RFC 9110 section 15.4).
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Redirect {
    /// The path, without parameters.
    pub(in crate::dialect) path: Text,
    /// Where it leads: a path or a whole URL.
    pub(in crate::dialect) to: Text,
    /// 301, 302, 303, 307 or 308. Default 302.
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    /// The method that is led away. Default every one.
    pub(in crate::dialect) method: Option<Text>,
}
