//! Publishing through a broker: the shell round a dialect's [`MqttPlan`](crate::dialect::MqttPlan).
//!
//! The host is a client that only publishes. It never waits for the broker with anything else:
//! without one it serves HTTP as ever, and tries again from time to time.
//!
//! # Source
//! OASIS MQTT 3.1.1 and MQTT 5.0, as cited at each rule.

mod backoff;
mod broker;
mod connected;
mod link;

use std::sync::Arc;
use std::time::Duration;

use tokio::time::Instant;
use tokio_util::sync::CancellationToken;
use tokio_util::task::AbortOnDropHandle;

use super::WireEvent;
use super::limits::STOP_TIMEOUT;
use super::shared::Shared;
use crate::dialect::{Dialect, RenderError};
use backoff::Backoff;
use connected::End;

pub use broker::{Broker, BrokerError};

/// The time between two looks whether a host that restarts is back.
const AWAY: Duration = Duration::from_millis(50);

/// Publishes until it is stopped. Dropping it cuts the connection without a word, so that the broker
/// sends the will (MQTT 3.1.1 section 3.1.2.5).
#[derive(Debug)]
pub(super) struct Publisher {
    /// Not the host's own token: dropping a host cancels that one too, and is no orderly stop.
    stop: CancellationToken,
    task: AbortOnDropHandle<()>,
}

impl Publisher {
    /// Begins to publish what the dialect says, while the version spoken has an `[mqtt]`.
    pub(super) fn start(shared: Arc<Shared>, broker: Broker) -> Self {
        let stop = CancellationToken::new();
        let task = tokio::spawn({
            let stop = stop.clone();
            async move { run(&shared, &broker, &stop).await }
        });
        Self {
            stop,
            task: AbortOnDropHandle::new(task),
        }
    }

    /// Says what the dialect says for going offline, and good-bye; gives up after a while.
    pub(super) async fn stop(self) {
        self.stop.cancel();
        if let Ok(Err(error)) = tokio::time::timeout(STOP_TIMEOUT, self.task).await
            && error.is_panic()
        {
            std::panic::resume_unwind(error.into_panic());
        }
    }
}

async fn run(shared: &Shared, broker: &Broker, stop: &CancellationToken) {
    let mut backoff = Backoff::new();
    let mut told = Told::default();
    loop {
        tokio::select! {
            () = stop.cancelled() => return,
            () = host_answers(shared) => {}
        }
        let begun = Instant::now();
        let dialect = spoken(shared);
        let Some(plan) = dialect.mqtt() else {
            // The host was updated to a version that publishes nothing.
            tokio::time::sleep(AWAY).await;
            continue;
        };
        let place = dialect.place();
        let wait = match connected::run(shared, place, plan, broker, stop, &mut told).await {
            End::Stopped => return,
            End::Away => {
                told.lost(shared, "the host restarts");
                Duration::ZERO
            }
            End::Lost(reason) => {
                told.lost(shared, &reason);
                backoff.after(begun.elapsed())
            }
        };
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(wait) => {}
        }
    }
}

/// Gives the version that the host speaks now.
fn spoken(shared: &Shared) -> Arc<Dialect> {
    let truth = shared.printer().truth(shared.wire.clock.now());
    Arc::clone(shared.dialects.spoken(&truth.printer))
}

/// Comes back once the host answers.
async fn host_answers(shared: &Shared) {
    loop {
        let truth = shared.printer().truth(shared.wire.clock.now());
        if truth.printer.host_answers {
            return;
        }
        tokio::time::sleep(AWAY).await;
    }
}

/// Tells each thing once, not at every try.
#[derive(Debug, Default)]
struct Told {
    lost: bool,
    not_published: Option<RenderError>,
}

impl Told {
    fn connected(&mut self, shared: &Shared) {
        self.lost = false;
        shared
            .wire
            .tell(|virtual_time| WireEvent::BrokerConnected { virtual_time });
    }

    fn lost(&mut self, shared: &Shared, reason: &str) {
        if !std::mem::replace(&mut self.lost, true) {
            shared.wire.tell(|virtual_time| WireEvent::BrokerLost {
                virtual_time,
                reason: reason.to_owned(),
            });
        }
    }

    fn not_published(&mut self, shared: &Shared, error: &RenderError) {
        if self.not_published.as_ref() != Some(error) {
            self.not_published = Some(error.clone());
            shared.wire.tell(|virtual_time| WireEvent::NotPublished {
                virtual_time,
                reason: error.to_string(),
            });
        }
    }
}
