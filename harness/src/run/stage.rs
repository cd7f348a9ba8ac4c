//! A private mock host with one watcher in front of it.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::{AuthScheme, DialectFile};
use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::{Simulation, VirtualTime};
use tokio::sync::mpsc;

use super::delay::DelayMeter;
use super::{Recorder, RunError};
use crate::event::{Event, EventKind};
use crate::watcher::{Output, Sighting, WatcherCommand, WatcherProcess};

/// Is what all runs share: the watcher, the dialect it speaks, the seed.
#[derive(Debug, Clone)]
pub struct Setting {
    /// How the watcher is started.
    pub command: WatcherCommand,
    /// The dialect, as named on the command line.
    pub dialect_name: String,
    /// The dialect itself.
    pub dialect: Arc<DialectFile>,
    /// The seed of every simulation.
    pub seed: u64,
}

/// How long a watcher may take from its start to its first request (own choice: an interpreter on
/// a loaded machine needs some seconds, nothing needs this many).
const FIRST_REQUEST_WITHIN: Duration = Duration::from_secs(15);

/// Is a running mock, the watcher in front of it, and the log of both.
pub(super) struct Stage {
    pub(super) host: Host,
    pub(super) log: Arc<Recorder>,
    pub(super) delay: DelayMeter,
    watcher: WatcherProcess,
}

impl Stage {
    /// Starts both with the clock standing at a moment, and waits for the first request.
    pub(super) async fn open(
        setting: &Setting,
        scenario: Arc<Scenario>,
        start: VirtualTime,
        key: &str,
    ) -> Result<Self, RunError> {
        let asks = *setting.dialect.first().auth() != AuthScheme::None;
        let log = Arc::new(Recorder::default());
        let delay = DelayMeter::start();
        let host = Host::start(HostOptions {
            key: asks.then(|| key.to_owned()),
            clock: Clock::paused_at(start),
            observer: Some(Arc::clone(&log) as _),
            ..HostOptions::on_loopback(
                Simulation::new(scenario, setting.seed),
                Arc::clone(&setting.dialect),
            )
        })
        .await?;
        let (sink, output) = mpsc::unbounded_channel();
        let watcher = setting
            .command
            .start(&host.url(), key, &setting.dialect_name, sink)?;
        tokio::spawn(take_down(output, Arc::clone(&log)));
        let stage = Self {
            host,
            log,
            delay,
            watcher,
        };
        stage.first_request().await?;
        Ok(stage)
    }

    /// Lets the clock run from where it is at so many virtual seconds per real second.
    pub(super) fn run_clock(&self, rate: f64) {
        let clock = self.host.clock();
        // A plan's rates are finite and positive; one that is not leaves the rate as it was.
        let _ = clock.set_rate(rate);
        clock.resume();
        self.log.note(EventKind::Clock {
            virtual_time: clock.now(),
            rate,
        });
    }

    /// Ends both and gives what was observed.
    pub(super) async fn close(self) -> Vec<Event> {
        let events = self.log.with(<[Event]>::to_vec);
        self.watcher.stop().await;
        self.host.stop().await;
        events
    }

    async fn first_request(&self) -> Result<(), RunError> {
        let decided = |events: &[Event]| {
            events
                .iter()
                .any(|event| event.is_request() || event.is_exit())
        };
        self.log.wait_until(FIRST_REQUEST_WITHIN, decided).await;
        if self.log.with(|events| events.iter().any(Event::is_request)) {
            return Ok(());
        }
        Err(RunError::NeverAsked {
            seconds: FIRST_REQUEST_WITHIN.as_secs(),
            last_words: self.log.with(last_words),
        })
    }
}

async fn take_down(mut output: mpsc::UnboundedReceiver<Output>, log: Arc<Recorder>) {
    while let Some(output) = output.recv().await {
        log.note(match output {
            Output::Stdout(text) => match Sighting::from_line(&text) {
                Some(sighting) => EventKind::Sighting(sighting),
                None => EventKind::Line {
                    on_stderr: false,
                    text,
                },
            },
            Output::Stderr(text) => EventKind::Line {
                on_stderr: true,
                text,
            },
            Output::Exited(status) => EventKind::Exited {
                status: status.to_string(),
            },
        });
    }
}

/// Quotes how a watcher that asked for nothing ended, and the last line it wrote.
fn last_words(events: &[Event]) -> String {
    let exit = events.iter().find_map(|event| match &event.kind {
        EventKind::Exited { status } => Some(format!("ended with {status}")),
        _ => None,
    });
    let line = events.iter().rev().find_map(|event| match &event.kind {
        EventKind::Line { text, .. } if !text.is_empty() => Some(format!("wrote `{text}`")),
        _ => None,
    });
    let words: Vec<String> = exit.into_iter().chain(line).collect();
    if words.is_empty() {
        String::new()
    } else {
        format!(" [it {}]", words.join(", "))
    }
}
