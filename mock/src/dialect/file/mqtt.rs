//! What is published through a broker, as written.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Spanned, Text};

/// What the host publishes through a broker (MQTT 3.1.1 or 5).
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Mqtt {
    /// The version. Default `3.1.1`.
    #[schemars(extend("enum" = ["3.1.1", "5"]))]
    pub(in crate::dialect) protocol: Option<Text>,
    /// The client identifier. Default: the broker gives one.
    pub(in crate::dialect) client_id: Option<Text>,
    /// Seconds of silence after which the host pings the broker.
    pub(in crate::dialect) keep_alive_s: Option<Spanned<u64>>,
    /// How hard a message is delivered: 0, 1 or 2. Default 0.
    pub(in crate::dialect) qos: Option<Spanned<u64>>,
    /// When a message is sent. Default `change`.
    #[schemars(extend("enum" = ["change", "period"]))]
    pub(in crate::dialect) on: Option<Text>,
    /// Real time between two looks at the printer, in milliseconds. Default 1000.
    pub(in crate::dialect) period_ms: Option<Spanned<u64>>,
    /// What the broker says when the host is gone without a word.
    pub(in crate::dialect) will: Option<Spanned<Notice>>,
    /// What the host says when it is there.
    pub(in crate::dialect) birth: Option<Spanned<Notice>>,
    /// What is published.
    #[serde(default)]
    pub(in crate::dialect) topics: Vec<Spanned<Topic>>,
}

/// Is the will or the birth: one message.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Notice {
    /// The topic, with expressions; no wildcards.
    pub(in crate::dialect) topic: Text,
    /// The message as text with expressions.
    pub(in crate::dialect) text: Option<Text>,
    /// The message as JSON with expressions.
    pub(in crate::dialect) body: Option<Text>,
    /// Whether the broker keeps it.
    pub(in crate::dialect) retain: Option<bool>,
    /// How hard a message is delivered: 0, 1 or 2. Default 0.
    pub(in crate::dialect) qos: Option<Spanned<u64>>,
}

/// Has the keys of a [`Notice`] and those that make several messages of it: a flattened table could
/// not refuse unknown keys.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Topic {
    /// The topic, with expressions; no wildcards.
    pub(in crate::dialect) topic: Text,
    /// An expression that gives a list: one message for each item.
    pub(in crate::dialect) each: Option<Text>,
    /// The names by which expressions see an item.
    #[serde(rename = "as")]
    pub(in crate::dialect) names: Option<Spanned<Vec<String>>>,
    /// The message as text with expressions.
    pub(in crate::dialect) text: Option<Text>,
    /// The message as JSON with expressions.
    pub(in crate::dialect) body: Option<Text>,
    /// Whether the broker keeps it.
    pub(in crate::dialect) retain: Option<bool>,
    /// How hard a message is delivered: 0, 1 or 2. Default 0.
    pub(in crate::dialect) qos: Option<Spanned<u64>>,
}
