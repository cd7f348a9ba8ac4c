//! How a host is announced, as written.

use indexmap::IndexMap;
use serde::Deserialize;

use super::Text;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Announce {
    pub(in crate::dialect) service: Text,
    pub(in crate::dialect) instance: Option<Text>,
    #[serde(default)]
    pub(in crate::dialect) txt: IndexMap<String, Text>,
}
