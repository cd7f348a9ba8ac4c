//! What a fault does to an answer, as far as claims are concerned.

use coldbed_mock::fault::{Fault, Position};

/// Says what a fault does to an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Harm {
    /// No whole answer of the printer comes: nothing may be claimed from it.
    Withheld,
    /// It comes late.
    Late,
    /// It comes, and does not say what is true now.
    Misleading,
    /// It comes whole and in time; only what stands round it is unusual.
    None,
}

/// Says what a fault does to an answer.
pub fn harm(fault: &Fault) -> Harm {
    match fault {
        Fault::Refuse
        | Fault::Unreachable
        | Fault::Silent
        | Fault::HalfOpen
        | Fault::TlsCertificate { .. }
        | Fault::Status { .. }
        | Fault::LoginPage
        | Fault::Redirect { .. }
        | Fault::CaptivePortal
        | Fault::RedirectLoop { .. }
        | Fault::KeyRevoked
        | Fault::Stall { .. }
        | Fault::NoLastChunk
        | Fault::Garbage { .. }
        | Fault::CloseOnReuse { .. }
        | Fault::UnaskedData { .. } => Harm::Withheld,
        Fault::Reset { at } | Fault::Close { at } => match at {
            Position::Start | Position::HeadEnd | Position::Byte(_) | Position::BodyByte(_) => {
                Harm::Withheld
            }
        },
        // Told too few bytes, the body is cut short for whoever believes the length.
        Fault::WrongLength { .. } => Harm::Withheld,
        Fault::Latency { .. } | Fault::Drip { .. } | Fault::Bandwidth { .. } => Harm::Late,
        Fault::Frozen | Fault::OutOfOrder => Harm::Misleading,
        Fault::TlsWithoutNotify
        | Fault::CloseIdle { .. }
        | Fault::ClockSkew { .. }
        | Fault::Twice
        | Fault::TrailingData { .. }
        | Fault::HugeHeader { .. }
        | Fault::Interim { .. }
        | Fault::SilentStream
        | Fault::StreamClosed { .. }
        | Fault::MissedMessages
        | Fault::RepeatedMessages
        | Fault::RepeatedIds
        | Fault::NoPong => Harm::None,
    }
}
