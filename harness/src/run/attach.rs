//! A device that nobody here can start: one address for all runs, one after the other.

use std::net::SocketAddr;
use std::time::Duration;

use crate::check::{Plan, Step};

/// Is where a device finds the mock host, run after run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attach {
    /// The address that the device is told.
    pub listen: SocketAddr,
    /// The key that the device is told.
    pub key: String,
    /// How long it may take until the device asks for the first time, and how long between two runs.
    pub patience: Duration,
}

/// Says why a plan cannot be carried out with a device that is only attached.
pub(super) fn cannot(plan: &Plan) -> Option<&'static str> {
    if plan.setup.tls {
        return Some("a device that is attached keeps its address, and is not asked to speak TLS");
    }
    if plan.setup.companions > 0 {
        return Some("there is only one device");
    }
    if plan.setup.interval.is_some() {
        return Some("a device that is attached keeps its own pace");
    }
    if plan.setup.measure_every.is_some() {
        return Some("nobody here sees what a device uses of its memory");
    }
    has_sleep(&plan.steps).then_some("nobody here can put a device to sleep")
}

fn has_sleep(steps: &[Step]) -> bool {
    steps.iter().any(|step| match step {
        Step::Suspend | Step::Resume | Step::Command(_) => true,
        Step::Trial { steps, .. } => has_sleep(steps),
        _ => false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_needs_a_process_cannot_be_done_with_a_device() {
        assert_eq!(cannot(&Plan::default()), None);
        let asleep = Plan::of([Step::Trial {
            label: String::new(),
            steps: vec![Step::Suspend],
        }]);
        assert!(cannot(&asleep).is_some());
        let mut secure = Plan::default();
        secure.setup.tls = true;
        assert!(cannot(&secure).is_some());
    }
}
