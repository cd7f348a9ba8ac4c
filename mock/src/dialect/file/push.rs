//! How a route pushes, as written.

use serde::Deserialize;
use toml::Spanned;

use super::Text;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Push {
    pub(in crate::dialect) form: Text,
    pub(in crate::dialect) period_ms: Spanned<u64>,
    pub(in crate::dialect) keep_alive_s: Option<Spanned<u64>>,
    pub(in crate::dialect) retry_ms: Option<Spanned<u64>>,
}
