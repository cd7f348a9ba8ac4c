//! What a scenario does to the wire by itself.

use super::plan::{Action, Scenario};

impl Action {
    /// Tells whether it is felt on the wire although nobody asks for anything: connections are
    /// refused, closed or dead, streams end.
    pub fn acts_on_wire(&self) -> bool {
        match self {
            Self::PowerDip { .. }
            | Self::HostRestart { .. }
            | Self::KeyRevoked
            | Self::FaultRaised { .. }
            | Self::FaultCleared { .. }
            | Self::DriftRaised { .. }
            | Self::DriftCleared { .. } => true,
            Self::HostUpdated { lasts, .. } => lasts.is_some(),
            _ => false,
        }
    }
}

impl Scenario {
    /// Tells whether anything on the timeline is felt on the wire although nobody asks for anything.
    pub fn acts_on_wire(&self) -> bool {
        self.events.iter().any(|event| event.action.acts_on_wire())
    }
}
