//! What the faults in force do together.

use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use xxhash_rust::xxh3::xxh3_64_with_seed;

use super::script::{Cut, Ending, Script};
use super::{CertificateKind, Fault, Occasion, Position, ScopedFault};

/// Is what the faults in force do to one exchange.
#[derive(Debug, Clone, Default)]
pub struct Effects {
    /// The fault that says what the answer is, with its number on the board.
    pub answer: Option<(u64, Arc<ScopedFault>)>,
    /// Whether the key is no longer good.
    pub key_revoked: bool,
    /// How far `Date` is ahead, s.
    pub ahead_s: Option<f64>,
    /// How much later the answer comes.
    pub latency: Duration,
    /// Whether TLS ends without its farewell, after this answer.
    pub without_notify: bool,
    /// What happens to the bytes of the answer.
    pub script: Script,
    /// The faults that have had a part in it.
    pub met: Vec<Arc<ScopedFault>>,
    /// The number of each of those on the board, and of what each has happened to.
    parts: Vec<(u64, u64)>,
}

/// Is what the faults in force do to a new connection.
#[derive(Debug, Clone, Default)]
pub struct ConnectionEffects {
    /// Whether it stays silent; with the number of the fault on the board.
    pub silent: Option<u64>,
    /// What is sent before there is a request.
    pub unasked: Option<Bytes>,
    /// The certificate that is shown.
    pub certificate: Option<CertificateKind>,
    /// The faults that have had a part in it.
    pub met: Vec<Arc<ScopedFault>>,
}

/// Is what the faults in force do to a push stream for as long as they last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StreamEffects {
    /// Whether nothing comes any more.
    pub silent: bool,
    /// Whether it ends, with the code of the close frame if it has one.
    pub closed: Option<Option<u16>>,
    /// Whether pings are not answered.
    pub no_pong: bool,
}

/// Is what the faults in force do to one message of a push stream.
#[derive(Debug, Clone, Default)]
pub struct MessageEffects {
    /// Whether it is lost.
    pub missed: bool,
    /// Whether it comes twice.
    pub repeated: bool,
    /// Whether it has the id of the one before.
    pub repeated_id: bool,
    /// The faults that have had a part in it.
    pub met: Vec<Arc<ScopedFault>>,
}

const UNASKED: &str =
    "HTTP/1.1 408 Request Timeout\r\nConnection: close\r\nContent-Length: 0\r\n\r\n";
const GARBAGE: &str = "\r\n*** console ready, press Enter ***\r\n> ";
const TRAILING: &str = "AAAAAAAAAAAAAAAA\r\n";

fn bytes_or(text: Option<&String>, otherwise: &'static str) -> Bytes {
    match text {
        Some(text) => Bytes::from(text.clone()),
        None => Bytes::from_static(otherwise.as_bytes()),
    }
}

impl Effects {
    /// Tells whether a fault can have a part in it beside those that have.
    pub(super) fn has_room_for(&self, fault: &Fault, occasion: &Occasion<'_>) -> bool {
        let script = &self.script;
        match fault {
            Fault::Status { .. }
            | Fault::LoginPage
            | Fault::Redirect { .. }
            | Fault::CaptivePortal
            | Fault::RedirectLoop { .. }
            | Fault::Frozen
            | Fault::OutOfOrder => self.answer.is_none(),
            Fault::KeyRevoked => !self.key_revoked,
            Fault::ClockSkew { .. } => self.ahead_s.is_none(),
            Fault::TlsWithoutNotify => !self.without_notify,
            // The connection is silent for the requests on open connections too.
            Fault::Silent | Fault::Reset { .. } | Fault::Close { .. } | Fault::Stall { .. } => {
                script.cut.is_none()
            }
            Fault::NoLastChunk | Fault::Garbage { .. } => script.cut.is_none(),
            Fault::CloseOnReuse { .. } => script.cut.is_none() && occasion.answers_before > 0,
            Fault::Twice => !script.twice,
            Fault::TrailingData { .. } => script.trailing.is_none(),
            Fault::WrongLength { .. } => script.length_by.is_none(),
            Fault::HugeHeader { .. } => script.huge_header.is_none(),
            Fault::Drip { .. } => script.pace.gap.is_none(),
            Fault::Bandwidth { .. } => script.pace.bytes_per_second.is_none(),
            Fault::Interim { .. } | Fault::Latency { .. } => true,
            Fault::Refuse
            | Fault::Unreachable
            | Fault::HalfOpen
            | Fault::CloseIdle { .. }
            | Fault::UnaskedData { .. }
            | Fault::TlsCertificate { .. }
            | Fault::SilentStream
            | Fault::StreamClosed { .. }
            | Fault::MissedMessages
            | Fault::RepeatedMessages
            | Fault::RepeatedIds
            | Fault::NoPong => false,
        }
    }

    /// Lets a fault have its part; `nth` counts what it has happened to, from 0.
    pub(super) fn add(&mut self, id: u64, scoped: &Arc<ScopedFault>, nth: u64) {
        self.met.push(Arc::clone(scoped));
        self.parts.push((id, nth));
        let script = &mut self.script;
        match &scoped.fault {
            Fault::KeyRevoked => self.key_revoked = true,
            Fault::ClockSkew { ahead_s } => self.ahead_s = Some(*ahead_s),
            Fault::TlsWithoutNotify => self.without_notify = true,
            Fault::Silent => script.cut = Some(Cut::At(Position::Start, Ending::Stall)),
            Fault::Reset { at } => script.cut = Some(Cut::At(*at, Ending::Reset)),
            Fault::Close { at } => script.cut = Some(Cut::At(*at, Ending::Close)),
            Fault::Stall { at } => script.cut = Some(Cut::At(*at, Ending::Stall)),
            Fault::CloseOnReuse { reset } => {
                let ending = if *reset { Ending::Reset } else { Ending::Close };
                script.cut = Some(Cut::At(Position::Start, ending));
            }
            Fault::NoLastChunk => script.cut = Some(Cut::NoLastChunk),
            Fault::Garbage { text } => {
                script.cut = Some(Cut::Instead(bytes_or(text.as_ref(), GARBAGE)));
            }
            Fault::Twice => script.twice = true,
            Fault::TrailingData { text } => {
                script.trailing = Some(bytes_or(text.as_ref(), TRAILING));
            }
            Fault::WrongLength { by } => script.length_by = Some(*by),
            Fault::HugeHeader { bytes } => script.huge_header = Some(*bytes),
            Fault::Interim { code, times } => {
                let codes = std::iter::repeat_n(*code, *times as usize);
                script.interim.extend(codes);
            }
            Fault::Drip { gap } => script.pace.gap = Some(gap.0),
            Fault::Bandwidth { bytes_per_second } => {
                script.pace.bytes_per_second = Some(*bytes_per_second);
            }
            Fault::Latency { of, jitter } => {
                self.latency += of.0 + jitter.0.mul_f64(share(scoped.scope.seed, nth));
            }
            _ => self.answer = Some((id, Arc::clone(scoped))),
        }
    }

    /// Gives what only some of the faults do, told by their numbers on the board.
    pub(super) fn kept(&self, is_kept: impl Fn(u64) -> bool) -> Self {
        let mut kept = Self::default();
        for (scoped, (id, nth)) in self.met.iter().zip(&self.parts) {
            if is_kept(*id) {
                kept.add(*id, scoped, *nth);
            }
        }
        kept
    }
}

impl Fault {
    /// Tells whether it can still happen to an answer that has begun when it comes into force.
    ///
    /// Those that say what the answer is, or that are seen in its head, are for the next request.
    pub(super) fn meets_under_way(&self) -> bool {
        matches!(
            self,
            Self::Frozen
                | Self::OutOfOrder
                | Self::KeyRevoked
                | Self::TlsWithoutNotify
                | Self::Silent
                | Self::Reset { .. }
                | Self::Close { .. }
                | Self::Stall { .. }
                | Self::NoLastChunk
                | Self::TrailingData { .. }
                | Self::Drip { .. }
                | Self::Bandwidth { .. }
        )
    }
}

/// Draws a share from 0 to 1; the same seed draws the same.
fn share(seed: u64, nth: u64) -> f64 {
    // Another stream of numbers than that of the probability.
    let drawn = xxh3_64_with_seed(&nth.to_be_bytes(), !seed) >> 32;
    #[expect(clippy::cast_precision_loss, reason = "32 bits")]
    let share = drawn as f64 / f64::from(u32::MAX);
    share
}

impl ConnectionEffects {
    pub(super) fn has_room_for(&self, fault: &Fault) -> bool {
        match fault {
            Fault::Silent => self.silent.is_none(),
            Fault::UnaskedData { .. } => self.unasked.is_none(),
            Fault::TlsCertificate { .. } => self.certificate.is_none(),
            _ => false,
        }
    }

    pub(super) fn add(&mut self, id: u64, scoped: &Arc<ScopedFault>) {
        self.met.push(Arc::clone(scoped));
        match &scoped.fault {
            Fault::Silent => self.silent = Some(id),
            Fault::UnaskedData { text } => self.unasked = Some(bytes_or(text.as_ref(), UNASKED)),
            Fault::TlsCertificate { is } => self.certificate = Some(*is),
            _ => {}
        }
    }
}

impl StreamEffects {
    pub(super) fn add(&mut self, fault: &Fault) {
        match fault {
            Fault::SilentStream => self.silent = true,
            Fault::StreamClosed { code } => {
                self.closed.get_or_insert(*code);
            }
            Fault::NoPong => self.no_pong = true,
            _ => {}
        }
    }
}

impl MessageEffects {
    pub(super) fn has_room_for(&self, fault: &Fault, has_id_before: bool) -> bool {
        match fault {
            Fault::MissedMessages => !self.missed && !self.repeated && !self.repeated_id,
            Fault::RepeatedMessages => !self.missed && !self.repeated,
            Fault::RepeatedIds => has_id_before && !self.missed && !self.repeated_id,
            _ => false,
        }
    }

    pub(super) fn add(&mut self, scoped: &Arc<ScopedFault>) {
        self.met.push(Arc::clone(scoped));
        match &scoped.fault {
            Fault::MissedMessages => self.missed = true,
            Fault::RepeatedMessages => self.repeated = true,
            Fault::RepeatedIds => self.repeated_id = true,
            _ => {}
        }
    }
}
