//! One TCP connection: who is who on it, its two directions, and its end.

use std::net::SocketAddr;
use std::time::Duration;

use super::assembler::Assembler;
use super::conversation::Conversation;
use super::import::CaptureError;
use super::left_out::Reason;
use super::packet::Segment;
use super::shared::Shared;
use crate::format::{ClosedBy, End, Line};
use crate::http::head;

/// Is a connection as a capture has it.
#[derive(Debug)]
pub(super) struct Connection {
    number: u64,
    opened: Duration,
    /// Who asks and who is asked, once that is clear.
    roles: Option<Roles>,
    saw_beginning: bool,
    /// The number of the SYN that began it.
    syn: Option<u32>,
    /// The number of the first byte that the watcher sent, once it is over.
    first: Option<u32>,
    watcher: Assembler,
    host: Assembler,
    conversation: Conversation,
    /// What came before the first request of a connection that had begun before.
    before: Before,
    /// Whether it is what follows after lost bytes.
    is_rest: bool,
    /// Who ended it first, and whether by a reset.
    ended_by: Option<(ClosedBy, bool)>,
    closed: Option<Duration>,
    state: State,
    last: Duration,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Roles {
    watcher: SocketAddr,
    host: SocketAddr,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Open,
    /// It is at its end; what comes late is of no interest.
    Over,
    /// It is with another host than the one that is wanted.
    Unwanted,
}

/// Is what came of a connection before it was clear who asks.
#[derive(Debug, Clone, Copy, Default)]
struct Before {
    bytes: u64,
    is_tls: bool,
    /// Between whom.
    between: Option<(SocketAddr, SocketAddr)>,
}

/// How long bytes that have reached the other side are waited for (own choice: packets that are captured
/// in another order than they went come within milliseconds).
const LATE: Duration = Duration::from_secs(2);

/// Says what to do after a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum After {
    /// Nothing.
    GoOn,
    /// The capture has lost bytes: all is given out up to there, and what follows, from this segment on,
    /// is to be taken as a connection that had begun before.
    BeginAnew,
}

impl Connection {
    pub(super) fn new(at: Duration, shared: &mut Shared) -> Self {
        let number = shared.next_connection();
        Self {
            number,
            opened: at,
            roles: None,
            saw_beginning: false,
            syn: None,
            first: None,
            watcher: Assembler::default(),
            host: Assembler::default(),
            conversation: Conversation::new(number, shared.max_body_bytes()),
            before: Before::default(),
            is_rest: false,
            closed: None,
            ended_by: None,
            state: State::Open,
            last: at,
        }
    }

    /// Begins with what follows after lost bytes.
    pub(super) fn rest(at: Duration, shared: &mut Shared) -> Self {
        Self {
            is_rest: true,
            ..Self::new(at, shared)
        }
    }

    /// Tells whether a segment begins another connection between the same two ports.
    pub(super) fn is_succeeded_by(&self, segment: &Segment<'_>) -> bool {
        if !segment.is_syn || segment.expects.is_some() {
            return false;
        }
        match (self.syn, self.first.or(self.watcher.first())) {
            (Some(syn), _) => syn != segment.number,
            // It may come late in a capture.
            (None, Some(first)) => first != segment.number.wrapping_add(1),
            // Nothing of it is kept.
            (None, None) => true,
        }
    }

    /// Takes a segment.
    ///
    /// # Errors
    /// [`CaptureError::TooMuch`].
    pub(super) fn take(
        &mut self,
        at: Duration,
        segment: &Segment<'_>,
        shared: &mut Shared,
    ) -> Result<After, CaptureError> {
        if self.state != State::Open {
            return Ok(After::GoOn);
        }
        self.last = at;
        self.shake_hands(segment);
        let Some(roles) = self.roles(segment) else {
            return Ok(After::GoOn);
        };
        if !shared.wants(roles.host) {
            self.state = State::Unwanted;
            return Ok(After::GoOn);
        }
        self.place(segment, roles, shared)?;
        if self.is_late(at) {
            self.lose(shared);
            return Ok(After::BeginAnew);
        }
        self.follow(at, shared);
        if segment.is_rst {
            self.is_reset(at, segment.from == roles.host, shared);
        }
        Ok(After::GoOn)
    }

    fn shake_hands(&mut self, segment: &Segment<'_>) {
        if !segment.is_syn {
            return;
        }
        self.saw_beginning = true;
        match segment.expects {
            None => {
                self.syn = Some(segment.number);
                self.roles.get_or_insert(Roles {
                    watcher: segment.from,
                    host: segment.to,
                });
            }
            Some(_) => {
                self.roles.get_or_insert(Roles {
                    watcher: segment.to,
                    host: segment.from,
                });
            }
        }
    }

    /// Says who is who. On a connection that had begun before, who asks is known by the first request.
    fn roles(&mut self, segment: &Segment<'_>) -> Option<Roles> {
        if self.roles.is_some() || segment.payload.is_empty() {
            return self.roles;
        }
        if !looks_like_a_request(segment.payload) {
            self.before.bytes += segment.payload.len() as u64;
            self.before.is_tls |= looks_like_tls(segment.payload);
            self.before
                .between
                .get_or_insert((segment.from, segment.to));
            return None;
        }
        self.roles = Some(Roles {
            watcher: segment.from,
            host: segment.to,
        });
        self.roles
    }

    /// Puts what a segment has in its place.
    fn place(
        &mut self,
        segment: &Segment<'_>,
        roles: Roles,
        shared: &mut Shared,
    ) -> Result<(), CaptureError> {
        let is_host = segment.from == roles.host;
        let (own, other) = match is_host {
            true => (&mut self.host, &mut self.watcher),
            false => (&mut self.watcher, &mut self.host),
        };
        // A SYN has a number, too.
        let number = segment.number.wrapping_add(u32::from(segment.is_syn));
        let is_beginning = segment.is_syn || (!is_host && looks_like_a_request(segment.payload));
        if is_beginning {
            own.begin(number);
        }
        if let Some(expected) = segment.expects.filter(|_| !segment.is_rst) {
            // What is said is answered from the number that is expected at that moment. The host's
            // expectation begins nothing but after its SYN: it may be in the middle of a request.
            if (is_host && segment.is_syn) || (!is_host && own.has_begun()) {
                other.begin(expected);
            }
            other.is_expected(expected);
        }
        // With a reset there may be a text for people (RFC 9293 section 3.10.7.3), which nobody reads.
        if !segment.is_rst {
            shared.keep(own.add(number, segment.payload))?;
        }
        if segment.missing > 0 {
            shared.leave_out(Reason::CutPacket, roles.host);
        }
        if segment.is_fin {
            let length = u32::try_from(segment.payload.len()).unwrap_or(u32::MAX);
            own.finish(number.wrapping_add(length).wrapping_add(segment.missing));
        }
        Ok(())
    }

    /// Gives the conversation what is ready.
    fn follow(&mut self, at: Duration, shared: &mut Shared) {
        let was_left = self.watcher.is_ended();
        let asked = self.watcher.ready(at);
        if !asked.is_empty() {
            self.conversation.asks(at, &asked, shared);
        }
        if self.watcher.is_ended() && !was_left {
            self.conversation.watcher_leaves(at);
            self.ended_by.get_or_insert((ClosedBy::Watcher, false));
        }
        let was_closed = self.host.is_ended();
        let answered = self.host.ready(at);
        if !answered.is_empty() {
            self.conversation.answers(at, answered, shared);
        }
        if self.host.is_ended() && !was_closed {
            self.conversation.host_closes(at);
            self.ended_by.get_or_insert((ClosedBy::Host, false));
        }
        let found = self.conversation.found();
        let is_nothing = !found.is_http && (found.is_tls || found.is_other);
        if is_nothing || (self.watcher.is_ended() && self.host.is_ended()) {
            self.end(at, End::Closed);
        }
    }

    fn is_reset(&mut self, at: Duration, by_host: bool, shared: &mut Shared) {
        if self.state != State::Open {
            return;
        }
        self.tell_loss(shared);
        let (by, end) = match by_host {
            true => (ClosedBy::Host, End::Reset),
            false => (ClosedBy::Watcher, End::WatcherLeft),
        };
        self.ended_by.get_or_insert((by, true));
        self.end(at, end);
    }

    /// Tells whether bytes that have reached the other side are waited for too long.
    fn is_late(&self, at: Duration) -> bool {
        let is_late = |direction: &Assembler| {
            let since = direction.behind_since();
            direction.is_missing() && since.is_some_and(|since| at.saturating_sub(since) > LATE)
        };
        is_late(&self.watcher) || is_late(&self.host)
    }

    /// Gives when the first of the directions got behind.
    fn behind_since(&self) -> Option<Duration> {
        let directions = [&self.watcher, &self.host];
        directions
            .into_iter()
            .filter_map(Assembler::behind_since)
            .min()
    }

    fn tell_loss(&self, shared: &mut Shared) {
        if let (Some(_), Some(roles)) = (self.behind_since(), self.roles) {
            shared.leave_out(Reason::MissingBytes, roles.host);
        }
    }

    /// Takes the end of the connection for lack of bytes.
    fn lose(&mut self, shared: &mut Shared) {
        self.tell_loss(shared);
        let since = self.behind_since().unwrap_or(self.last);
        self.ended_by = Some((ClosedBy::Recorder, false));
        self.end(since, End::RecordingStopped);
    }

    /// Takes the end, at that moment or after the last thing that happened.
    fn end(&mut self, at: Duration, end: End) {
        let at = at.max(self.conversation.last_moment());
        self.conversation.finish(at, end);
        self.closed = Some(at);
        self.state = State::Over;
        self.first = self.watcher.first();
        self.watcher = Assembler::default();
        self.host = Assembler::default();
    }

    /// Takes the end of a connection whose end the capture does not have: another one is between the
    /// same ports.
    pub(super) fn is_left(&mut self, shared: &mut Shared) {
        if self.state != State::Open {
            return;
        }
        if self.behind_since().is_some() {
            self.lose(shared);
        } else {
            self.ended_by.get_or_insert((ClosedBy::Watcher, false));
            self.end(self.last, End::WatcherLeft);
        }
    }

    /// Takes the end of the capture.
    fn stop(&mut self, at: Duration, shared: &mut Shared) {
        if self.state != State::Open {
            return;
        }
        match self.ended_by {
            _ if self.behind_since().is_some() => self.lose(shared),
            Some(_) => self.end(self.last, End::WatcherLeft),
            None => {
                self.ended_by = Some((ClosedBy::Recorder, false));
                self.end(at, End::RecordingStopped);
            }
        }
    }

    /// Gives what is written of it, at the end of the capture; what is not is told.
    pub(super) fn written(mut self, at: Duration, shared: &mut Shared) -> Option<Written> {
        if self.state == State::Unwanted {
            return None;
        }
        let Some(roles) = self.roles else {
            self.tell_before(shared);
            return None;
        };
        self.stop(at, shared);
        let found = self.conversation.found();
        let mut tell = |is_so: bool, reason| {
            shared
                .left_out
                .add(reason, Some(roles.host), u64::from(is_so));
        };
        let has_lost = !self.saw_beginning && self.before.bytes > 0 && !self.is_rest;
        tell(has_lost, Reason::BegunBefore);
        tell(found.is_tls, Reason::Tls);
        tell(found.is_other, Reason::NotHttp);
        tell(found.has_other_frames, Reason::Frames);
        let is_nothing = !found.is_http && (found.is_tls || found.is_other);
        tell(found.is_unasked && !is_nothing, Reason::Unasked);
        let parts = found.parts_of_requests;
        if !is_nothing {
            let reason = Reason::PartOfRequest;
            shared.left_out.add(reason, Some(roles.host), parts);
        }
        if is_nothing || (!found.is_http && !self.saw_beginning) {
            return None;
        }
        let mut lines = self.conversation.take_lines();
        lines.push(Line::ConnectionOpened {
            at_seconds: self.opened,
            connection: self.number,
            tls: false,
        });
        if let (Some(at_seconds), Some((by, reset))) = (self.closed, self.ended_by) {
            lines.push(Line::ConnectionClosed {
                at_seconds,
                connection: self.number,
                by,
                reset,
            });
        }
        Some(Written {
            host: roles.host,
            lines,
        })
    }

    /// Tells of a connection on which nobody is seen to ask.
    fn tell_before(&self, shared: &mut Shared) {
        let Some((one, other)) = self.before.between else {
            return;
        };
        let reason = match self.before.is_tls {
            true => Reason::Tls,
            false => Reason::NotHttp,
        };
        // Who is asked has the lower port, as a rule: those for one connection are the highest (RFC 6335
        // section 6).
        let host = match (shared.wants(one), shared.wants(other)) {
            (true, false) => one,
            (false, true) => other,
            _ if one.port() < other.port() => one,
            _ => other,
        };
        if !self.is_rest {
            shared.leave_out(reason, host);
        }
    }
}

/// Is what is written of a connection.
#[derive(Debug)]
pub(super) struct Written {
    pub(super) host: SocketAddr,
    pub(super) lines: Vec<Line>,
}

/// Tells whether bytes are the beginning of a request (RFC 9112 section 3): a method in capitals, as all
/// registered ones are, and a target.
fn looks_like_a_request(bytes: &[u8]) -> bool {
    let method = bytes.iter().take_while(|byte| byte.is_ascii_uppercase());
    let length = method.count();
    let is_line = (3..=20).contains(&length)
        && bytes.get(length) == Some(&b' ')
        && matches!(bytes.get(length + 1), Some(b'/' | b'*' | b'h'));
    is_line && head::request(bytes).is_ok()
}

/// Tells whether bytes are the beginning of a TLS record: its type, and the first byte of its version (RFC
/// 8446 section 5.1).
fn looks_like_tls(bytes: &[u8]) -> bool {
    matches!(bytes, [0x14..=0x17, 0x03, ..])
}
