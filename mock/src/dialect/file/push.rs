//! How a route pushes, as written.

use serde::Deserialize;
use toml::Spanned;

use super::Text;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Push {
    pub(in crate::dialect) form: Text,
    pub(in crate::dialect) period_ms: Spanned<u64>,
    pub(in crate::dialect) on: Option<Text>,
    pub(in crate::dialect) messages: Option<Text>,
    // Server-sent events.
    pub(in crate::dialect) event: Option<Text>,
    pub(in crate::dialect) patch_event: Option<Text>,
    pub(in crate::dialect) keep_alive_s: Option<Spanned<u64>>,
    pub(in crate::dialect) retry_ms: Option<Spanned<u64>>,
    // WebSocket.
    pub(in crate::dialect) ping_s: Option<Spanned<u64>>,
    pub(in crate::dialect) pong_within_s: Option<Spanned<u64>>,
    pub(in crate::dialect) subprotocol: Option<Text>,
    // Long poll.
    pub(in crate::dialect) timeout_s: Option<Spanned<u64>>,
    pub(in crate::dialect) since: Option<Text>,
    pub(in crate::dialect) id_header: Option<Text>,
    pub(in crate::dialect) at_timeout: Option<Spanned<u16>>,
}

impl Push {
    /// Gives the optional keys that are there, each with the byte at which its value begins.
    pub(in crate::dialect) fn keys(&self) -> impl Iterator<Item = (&'static str, usize)> {
        fn at<T>(value: Option<&Spanned<T>>) -> Option<usize> {
            value.map(|value| value.span().start)
        }
        [
            ("on", at(self.on.as_ref())),
            ("messages", at(self.messages.as_ref())),
            ("event", at(self.event.as_ref())),
            ("patch-event", at(self.patch_event.as_ref())),
            ("keep-alive-s", at(self.keep_alive_s.as_ref())),
            ("retry-ms", at(self.retry_ms.as_ref())),
            ("ping-s", at(self.ping_s.as_ref())),
            ("pong-within-s", at(self.pong_within_s.as_ref())),
            ("subprotocol", at(self.subprotocol.as_ref())),
            ("timeout-s", at(self.timeout_s.as_ref())),
            ("since", at(self.since.as_ref())),
            ("id-header", at(self.id_header.as_ref())),
            ("at-timeout", at(self.at_timeout.as_ref())),
        ]
        .into_iter()
        .filter_map(|(key, at)| Some((key, at?)))
    }
}
