//! Faults in words.

use std::fmt;

use super::Fault;
use crate::fault::CertificateKind;

impl fmt::Display for Fault {
    /// Says what is wrong in a few words.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Refuse => f.write_str("connections are refused"),
            Self::Unreachable => f.write_str("no packet comes or goes"),
            Self::Silent => f.write_str("connections are accepted and stay silent"),
            Self::HalfOpen => f.write_str("open connections are dead without a word"),
            Self::UnaskedData { .. } => f.write_str("data is sent before any request"),
            Self::TlsCertificate { is } => f.write_str(match is {
                CertificateKind::Good => "the certificate is good",
                CertificateKind::Expired => "the certificate has expired",
                CertificateKind::WrongName => "the certificate is another host's",
                CertificateKind::UnknownIssuer => "the certificate is an unknown authority's",
            }),
            Self::TlsWithoutNotify => f.write_str("TLS is closed without a farewell"),
            Self::CloseIdle { after } => write!(f, "connections are closed when idle for {after}"),
            Self::CloseOnReuse { reset: false } => {
                f.write_str("connections are closed when they are used again")
            }
            Self::CloseOnReuse { reset: true } => {
                f.write_str("connections are reset when they are used again")
            }
            Self::Status { code, .. } => write!(f, "every answer is {}", code.as_u16()),
            Self::LoginPage => f.write_str("every answer is a log-in page"),
            Self::Redirect { to, code } => {
                write!(f, "every answer is {} to {to}", code.as_u16())
            }
            Self::CaptivePortal => f.write_str("every answer leads to a network's log-in page"),
            Self::RedirectLoop { .. } => f.write_str("every answer leads back to itself"),
            Self::Frozen => f.write_str("every answer is the same old one"),
            Self::OutOfOrder => f.write_str("every second answer is older than the one before"),
            Self::KeyRevoked => f.write_str("the key is no longer good"),
            Self::ClockSkew { ahead_s } => write!(f, "the date is wrong by {ahead_s} s"),
            Self::Reset { at } => write!(f, "connections are reset {at}"),
            Self::Close { at } => write!(f, "connections are closed {at}"),
            Self::Stall { at } => write!(f, "answers stand still {at}"),
            Self::NoLastChunk => f.write_str("answers end without their last chunk"),
            Self::Garbage { .. } => f.write_str("answers are no HTTP"),
            Self::Twice => f.write_str("every answer comes twice"),
            Self::TrailingData { .. } => f.write_str("data follows every answer"),
            Self::WrongLength { by } => write!(f, "the length told is wrong by {by} bytes"),
            Self::HugeHeader { bytes } => write!(f, "a field of {bytes} bytes is added"),
            Self::Interim { code, times } => write!(f, "{times} times {code} come first"),
            Self::Latency { of, jitter } if jitter.is_zero() => write!(f, "answers are {of} late"),
            Self::Latency { of, jitter } => {
                write!(f, "answers are {of} late, and up to {jitter} more")
            }
            Self::Drip { gap } => write!(f, "answers come byte by byte, one in {gap}"),
            Self::Bandwidth { bytes_per_second } => {
                write!(f, "answers come at {bytes_per_second} bytes a second")
            }
            Self::SilentStream => f.write_str("push streams are silent"),
            Self::StreamClosed { .. } => f.write_str("push streams are ended"),
            Self::MissedMessages => f.write_str("messages are lost"),
            Self::RepeatedMessages => f.write_str("messages come twice"),
            Self::RepeatedIds => f.write_str("messages have the id of the one before"),
            Self::NoPong => f.write_str("pings are not answered"),
        }
    }
}
