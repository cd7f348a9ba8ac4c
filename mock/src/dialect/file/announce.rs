//! How a host is announced, as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::Text;

/// How the host is announced by DNS-SD (RFC 6763).
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Announce {
    /// The service type, such as `_coldbed._tcp`.
    pub(in crate::dialect) service: Text,
    /// The name people see. Default the printer's.
    pub(in crate::dialect) instance: Option<Text>,
    /// What the TXT record says.
    #[serde(default)]
    pub(in crate::dialect) txt: IndexMap<String, Text>,
}
