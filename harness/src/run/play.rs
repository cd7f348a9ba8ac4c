//! A scenario played as it is, troubles and all.

use std::time::Duration;

use coldbed_mock::sim::VirtualTime;

use super::execute::is_over;
use super::stage::Stage;
use crate::event::{Event, EventKind};
use crate::oracle::{Timing, calm, has_recovered};

/// How often it is looked whether the host is there; a shorter absence goes unnoticed and excuses
/// nothing, as the next poll finds the host again.
const LOOK_EVERY: Duration = Duration::from_millis(50);

/// Lets the clock run until a moment, notes when the timeline takes the host away, and waits for the
/// recovery. Comes back early when the watcher is gone.
pub(super) async fn play(stage: &Stage, timing: &Timing, until: VirtualTime) {
    let mut is_away = false;
    loop {
        let truth = stage.host.truth();
        if is_away == truth.printer.host_answers {
            is_away = !is_away;
            stage.log.note(match is_away {
                true => EventKind::HostWent,
                false => EventKind::HostCame,
            });
        }
        if truth.at >= until || stage.log.wait_until(LOOK_EVERY, is_over).await {
            break;
        }
    }
    let Some(calm) = stage.log.with(|events| calm(events, timing)) else {
        return;
    };
    let due = calm.since + calm.recovery_within + timing.freshness();
    let is_settled = |events: &[Event]| is_over(events) || has_recovered(events, calm);
    let left = due.saturating_sub(stage.log.now());
    stage.log.wait_until(left, is_settled).await;
}
