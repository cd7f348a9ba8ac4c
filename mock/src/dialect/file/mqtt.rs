//! What is published through a broker, as written.

use serde::Deserialize;
use toml::Spanned;

use super::Text;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Mqtt {
    pub(in crate::dialect) protocol: Option<Text>,
    pub(in crate::dialect) client_id: Option<Text>,
    pub(in crate::dialect) keep_alive_s: Option<Spanned<u64>>,
    pub(in crate::dialect) qos: Option<Spanned<u64>>,
    pub(in crate::dialect) on: Option<Text>,
    pub(in crate::dialect) period_ms: Option<Spanned<u64>>,
    pub(in crate::dialect) will: Option<Spanned<Notice>>,
    pub(in crate::dialect) birth: Option<Spanned<Notice>>,
    #[serde(default)]
    pub(in crate::dialect) topics: Vec<Spanned<Topic>>,
}

/// Is the will or the birth: one message.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Notice {
    pub(in crate::dialect) topic: Text,
    pub(in crate::dialect) text: Option<Text>,
    pub(in crate::dialect) body: Option<Text>,
    pub(in crate::dialect) retain: Option<bool>,
    pub(in crate::dialect) qos: Option<Spanned<u64>>,
}

/// Has the keys of a [`Notice`] and those that make several messages of it: a flattened table could
/// not refuse unknown keys.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Topic {
    pub(in crate::dialect) topic: Text,
    pub(in crate::dialect) each: Option<Text>,
    #[serde(rename = "as")]
    pub(in crate::dialect) names: Option<Spanned<Vec<String>>>,
    pub(in crate::dialect) text: Option<Text>,
    pub(in crate::dialect) body: Option<Text>,
    pub(in crate::dialect) retain: Option<bool>,
    pub(in crate::dialect) qos: Option<Spanned<u64>>,
}
