//! What of a capture is not in the session, and why.

use std::collections::BTreeMap;
use std::fmt;
use std::net::SocketAddr;

/// Says why something is left out. What is counted is said at each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reason {
    /// Connections that are encrypted (TLS).
    Tls,
    /// Connections on which something else than HTTP/1.1 is spoken, from the beginning or from some
    /// point on.
    NotHttp,
    /// Exchanges with another host than the one that was taken.
    OtherHost,
    /// Connections that had begun before the capture: what is before the first whole request is left out.
    BegunBefore,
    /// Packets that were captured only in part.
    CutPacket,
    /// Holes in connections: the capture does not have what was received. The rest up to a next request is
    /// left out.
    MissingBytes,
    /// Fragments of IP packets.
    Fragment,
    /// Connections whose frames are not plain WebSocket, such as packed ones (RFC 7692).
    Frames,
    /// Requests that never were whole and got no answer.
    PartOfRequest,
    /// Connections on which a host said something that nobody had asked for.
    Unasked,
    /// Packets of a link type that is not read here.
    LinkType(u32),
    /// Bytes of the file that are no packet, as at the end of one that was still written to.
    DamagedFile,
}

/// Is something that is not in the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeftOut {
    /// Why.
    pub reason: Reason,
    /// The host and its port, where it is known.
    pub host: Option<SocketAddr>,
    /// How many; of what, the reason says.
    pub count: u64,
}

impl fmt::Display for LeftOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, why) = self.reason.words();
        let several = if self.count == 1 { "" } else { "s" };
        write!(f, "{} {what}{several}", self.count)?;
        if let Some(host) = self.host {
            write!(f, " with {host}")?;
        }
        match self.reason {
            Reason::LinkType(number) => write!(f, "{why} [its number is {number}]"),
            _ => f.write_str(why),
        }
    }
}

impl Reason {
    /// Says what is counted, and what is the matter with it.
    fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Tls => ("connection", ": encrypted (TLS)"),
            Self::NotHttp => ("connection", ": no plain HTTP/1.1, or not to the end"),
            Self::OtherHost => ("exchange", ": another host"),
            Self::BegunBefore => (
                "connection",
                ": begun before the capture, and taken from the next request on",
            ),
            Self::CutPacket => ("packet", ": captured only in part [capture whole packets]"),
            Self::MissingBytes => (
                "hole",
                ": bytes that the capture does not have, and all after them until a next request",
            ),
            Self::Fragment => ("packet", ": a fragment"),
            Self::Frames => ("connection", ": frames that are no plain WebSocket"),
            Self::PartOfRequest => ("request", ": never whole"),
            Self::Unasked => ("connection", ": something that nobody had asked for"),
            Self::LinkType(_) => (
                "packet",
                ": of a link type other than Ethernet, raw IP, Linux cooked and BSD loopback",
            ),
            Self::DamagedFile => ("byte", " of the file: no whole packet"),
        }
    }
}

/// Counts what is left out.
#[derive(Debug, Default)]
pub(super) struct Tally(BTreeMap<(Reason, Option<SocketAddr>), u64>);

impl Tally {
    pub(super) fn add(&mut self, reason: Reason, host: Option<SocketAddr>, count: u64) {
        if count > 0 {
            *self.0.entry((reason, host)).or_default() += count;
        }
    }

    pub(super) fn list(self) -> Vec<LeftOut> {
        let entries = self.0.into_iter();
        entries
            .map(|((reason, host), count)| LeftOut {
                reason,
                host,
                count,
            })
            .collect()
    }
}
