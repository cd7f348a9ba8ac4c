//! How a route pushes, as written.

use schemars::JsonSchema;
use serde::Deserialize;

use super::Spanned;
use super::Text;

/// How a route pushes instead of answering once.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Push {
    /// The form: `server-sent-events` (WHATWG HTML), `websocket` (RFC 6455) or `long-poll`.
    #[schemars(extend("enum" = ["server-sent-events", "websocket", "long-poll"]))]
    pub(in crate::dialect) form: Text,
    /// Real time between two looks at the body, in milliseconds.
    #[schemars(range(min = 10, max = 3_600_000))]
    pub(in crate::dialect) period_ms: Spanned<u64>,
    /// When a message is sent: on `change` of the body or at every `period`. Default `change`.
    #[schemars(extend("enum" = ["change", "period"]))]
    pub(in crate::dialect) on: Option<Text>,
    /// What a message holds: the `full` body, or a `merge-patch` of it (RFC 7396). Default `full`.
    #[schemars(extend("enum" = ["full", "merge-patch"]))]
    pub(in crate::dialect) messages: Option<Text>,
    // Server-sent events.
    /// The event's name in a stream of server-sent events. Default none.
    pub(in crate::dialect) event: Option<Text>,
    /// The name of events that hold a patch. Default as `event`.
    pub(in crate::dialect) patch_event: Option<Text>,
    /// Real time of silence after which a comment is sent, in seconds. Default 15.
    pub(in crate::dialect) keep_alive_s: Option<Spanned<u64>>,
    /// The reconnection time the client is told first, in milliseconds. Default 2000.
    pub(in crate::dialect) retry_ms: Option<Spanned<u64>>,
    // WebSocket.
    /// Real time between two pings on a WebSocket, in seconds; 0 sends none. Default 30.
    pub(in crate::dialect) ping_s: Option<Spanned<u64>>,
    /// How long a pong may take before the WebSocket is closed, in seconds. Default 10.
    pub(in crate::dialect) pong_within_s: Option<Spanned<u64>>,
    /// The subprotocol of the WebSocket. Default none.
    pub(in crate::dialect) subprotocol: Option<Text>,
    // Long poll.
    /// The longest a long poll waits, in seconds. Default 30.
    pub(in crate::dialect) timeout_s: Option<Spanned<u64>>,
    /// The query parameter by which a client says which state it has. Default none.
    pub(in crate::dialect) since: Option<Text>,
    /// The header field with the number of the state. Default none.
    pub(in crate::dialect) id_header: Option<Text>,
    /// The status when nothing has changed in time: 204, 304 or 200. Default 204.
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
