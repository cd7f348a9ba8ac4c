//! How a host asks for its key, as written.

use serde::Deserialize;
use toml::Spanned;

use super::Text;

/// Has the scheme and those of the other keys that belong to it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Auth {
    pub(in crate::dialect) scheme: Text,
    pub(in crate::dialect) realm: Option<Text>,
    pub(in crate::dialect) user: Option<Text>,
    pub(in crate::dialect) header: Option<Text>,
    pub(in crate::dialect) prefix: Option<Text>,
    pub(in crate::dialect) parameter: Option<Text>,
    pub(in crate::dialect) cookie: Option<Text>,
    pub(in crate::dialect) cookie_attributes: Option<Text>,
    pub(in crate::dialect) idle_s: Option<Spanned<u64>>,
    pub(in crate::dialect) status: Option<Spanned<u16>>,
}
