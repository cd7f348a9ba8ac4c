//! How the host speaks HTTP, as written.

use serde::Deserialize;
use toml::Spanned;

use super::Text;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Http {
    pub(in crate::dialect) version: Option<Text>,
    pub(in crate::dialect) keep_alive: Option<Spanned<bool>>,
    pub(in crate::dialect) keep_alive_requests: Option<Spanned<u64>>,
    pub(in crate::dialect) keep_alive_idle_s: Option<Spanned<u64>>,
    pub(in crate::dialect) length: Option<Text>,
    pub(in crate::dialect) gzip: Option<Text>,
    pub(in crate::dialect) header_case: Option<Text>,
    pub(in crate::dialect) date: Option<Spanned<bool>>,
    pub(in crate::dialect) date_skew_s: Option<Spanned<i64>>,
    pub(in crate::dialect) host_field: Option<bool>,
    pub(in crate::dialect) cors: Option<Cors>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Cors {
    pub(in crate::dialect) origins: Option<Vec<Text>>,
    pub(in crate::dialect) headers: Option<Vec<Text>>,
    pub(in crate::dialect) methods: Option<Vec<Text>>,
    pub(in crate::dialect) expose: Option<Vec<Text>>,
    pub(in crate::dialect) credentials: Option<Spanned<bool>>,
    pub(in crate::dialect) max_age_s: Option<Spanned<u64>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Redirect {
    pub(in crate::dialect) path: Text,
    pub(in crate::dialect) to: Text,
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    pub(in crate::dialect) method: Option<Text>,
}
