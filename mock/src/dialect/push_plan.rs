//! How a route pushes.

use std::time::Duration;

use http::{HeaderName, HeaderValue};

/// Says how a route pushes instead of answering once.
///
/// The body is looked at every `period`. The looks of all who follow a route fall on the same
/// moments, so that they are shown the same states.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PushPlan {
    /// Real time between two looks.
    pub period: Duration,
    /// When something is sent.
    pub on: PushOn,
    /// What is sent.
    pub messages: PushMessages,
    /// How it is sent.
    pub form: PushForm,
}

impl PushPlan {
    /// Gives the content type of the route's answer, unless its file says otherwise.
    pub(super) fn content_type(&self) -> &'static str {
        match self.form {
            PushForm::ServerSentEvents(_) => "text/event-stream",
            PushForm::WebSocket(_) | PushForm::LongPoll(_) => "application/json",
        }
    }
}

/// Says when something is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PushOn {
    /// When the body has changed since the last look.
    Change,
    /// At every look, whether the body has changed or not.
    Period,
}

/// Says what is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PushMessages {
    /// The whole body each time.
    Full,
    /// The whole body first, then what has changed.
    ///
    /// # Source
    /// RFC 7396 (which took the place of RFC 7386).
    MergePatch,
}

/// Says how a body is pushed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PushForm {
    /// As a stream of events.
    ServerSentEvents(EventStreamPlan),
    /// As text messages of a WebSocket.
    WebSocket(WebSocketPlan),
    /// As answers that wait for news.
    LongPoll(LongPollPlan),
}

impl PushForm {
    /// Tells whether a client can tell a whole body from a patch: by the name of the event, where the
    /// two have different ones.
    pub fn marks_whole(&self) -> bool {
        match self {
            Self::ServerSentEvents(plan) => {
                plan.patch_event.is_some() && plan.patch_event != plan.event
            }
            Self::WebSocket(_) | Self::LongPoll(_) => false,
        }
    }
}

/// Says how a stream of events is written.
///
/// # Source
/// WHATWG HTML, "Server-sent events".
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventStreamPlan {
    /// The name of the events; `None` leaves the field out, which a client reads as `message`.
    pub event: Option<String>,
    /// The name of the events that hold a patch, where it is another.
    pub patch_event: Option<String>,
    /// Real time of silence after which a comment is sent.
    pub keep_alive: Duration,
    /// The reconnection time the client is told first.
    pub retry: Duration,
}

/// Says how a WebSocket is kept.
///
/// # Source
/// RFC 6455.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WebSocketPlan {
    /// The pings; `None` for a host that sends none.
    pub pings: Option<PingPlan>,
    /// The one subprotocol the host speaks, named to clients that offer it.
    pub subprotocol: Option<HeaderValue>,
}

/// Says how a host finds out whether a WebSocket's client is still there.
///
/// # Source
/// RFC 6455 section 5.5.2 and section 5.5.3.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PingPlan {
    /// Real time between two pings.
    pub every: Duration,
    /// Real time within which the pong has to come; no more than `every`.
    pub pong_within: Duration,
}

/// Says how an answer waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LongPollPlan {
    /// How long it waits at most, in real time.
    pub timeout: Duration,
    /// How states are numbered for the client, where they are.
    pub ids: Option<LongPollIds>,
    /// What is answered when there is no news in time.
    pub at_timeout: AtTimeout,
}

/// Says how the number of a state is told to the client, and how the client tells it back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LongPollIds {
    /// The name of the query's parameter.
    pub since: String,
    /// The name of the answer's field.
    pub header: HeaderName,
}

/// Says what is answered when there is no news in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AtTimeout {
    /// 200 with the body as it is.
    Body,
    /// 204 without a body.
    NoContent,
    /// 304 without a body.
    NotModified,
}
