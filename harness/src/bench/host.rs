//! A host for steps written by hand.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::{AuthScheme, DialectFile};
use coldbed_mock::drift::DriftBoard;
use coldbed_mock::fault::FaultBoard;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::{Simulation, Truth, VirtualTime};

use super::BenchError;
use crate::event::{Event, EventKind};
use crate::oracle::{Timing, Trace, Verdict};
use crate::run::{Recorder, RunError};
use crate::watcher::Sighting;

/// Is a host with a log, and nobody in front of it: the test asks, and says what it makes of the
/// answers.
///
/// ```
/// use std::time::Duration;
/// use coldbed::bench::Bench;
/// use coldbed::oracle::{Verdict, verify_phases};
/// use coldbed::watcher::Sighting;
/// use coldbed_mock::drift::{Drift, ReplaceByNull};
/// use coldbed_mock::sim::Phase;
///
/// # tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap().block_on(async {
/// let bench = Bench::host("heat-up").await.expect("a host");
/// bench.jump_to(Duration::from_secs(300));
/// let _null = bench.drifts().raise(Drift::of("/heaters/extruder/target-celsius", ReplaceByNull));
///
/// let asked = reqwest::Client::new().get(format!("{}/printer", bench.url()));
/// let body: serde_json::Value = asked.bearer_auth(bench.key()).send().await?.json().await?;
/// assert!(body["heaters"]["extruder"]["target-celsius"].is_null());
///
/// // What the watcher under test makes of the body:
/// bench.sighting(Sighting::new().phase(Phase::Printing));
/// let verdict = bench.verdict(Duration::from_secs(1), verify_phases);
/// assert!(matches!(verdict, Verdict::Held { .. }), "{verdict:?}");
/// bench.stop().await;
/// # Ok::<(), reqwest::Error>(())
/// # }).unwrap();
/// ```
#[derive(Debug)]
pub struct HostBench {
    host: Host,
    dialect: Arc<DialectFile>,
    key: String,
    log: Arc<Recorder>,
}

impl HostBench {
    pub(super) async fn start(
        dialect: Arc<DialectFile>,
        scenario: &str,
    ) -> Result<Self, BenchError> {
        let scenario = Scenario::builtin(scenario)
            .ok_or_else(|| BenchError::NoScenario(scenario.to_owned()))?
            .map_err(|error| BenchError::Scenario(Box::new(error)))?;
        Self::play(dialect, Arc::new(scenario)).await
    }

    /// Starts a host that plays a scenario of the user's own.
    ///
    /// # Errors
    /// [`BenchError`] if no host can be started.
    pub async fn play(
        dialect: Arc<DialectFile>,
        scenario: Arc<Scenario>,
    ) -> Result<Self, BenchError> {
        let key = "key-of-the-bench".to_owned();
        let asks = *dialect.first().auth() != AuthScheme::None;
        let log = Arc::new(Recorder::default());
        let simulation = Simulation::new(scenario, 1);
        let options = HostOptions {
            key: asks.then(|| key.clone()),
            observer: Some(Arc::clone(&log) as _),
            clock: Clock::paused_at(VirtualTime::ZERO),
            ..HostOptions::on_loopback(simulation, Arc::clone(&dialect))
        };
        let host = Host::start(options).await.map_err(RunError::from)?;
        Ok(Self {
            host,
            dialect,
            key,
            log,
        })
    }

    /// Gives where the host is, without a slash at the end.
    pub fn url(&self) -> String {
        self.host.url()
    }

    /// Gives the key it asks for.
    pub fn key(&self) -> &str {
        &self.key
    }

    /// Gives the dialect it speaks.
    pub fn dialect(&self) -> &Arc<DialectFile> {
        &self.dialect
    }

    /// Gives the virtual clock. It stands at the scenario's start until somebody sets it.
    pub fn clock(&self) -> &Clock {
        self.host.clock()
    }

    /// Sets the virtual clock to so long after the scenario's start, if that is not in the past.
    ///
    /// # Panics
    /// If it is: the printer does not go back.
    #[track_caller]
    pub fn jump_to(&self, since_start: Duration) {
        if let Err(error) = self.clock().jump_to(VirtualTime::new(since_start)) {
            panic!("cannot jump to {since_start:?}: {error}");
        }
    }

    /// Gives the board of faults: what is raised there is in force until its guard is dropped.
    pub fn faults(&self) -> &FaultBoard {
        self.host.faults()
    }

    /// Gives the board of drifts, likewise.
    pub fn drifts(&self) -> &DriftBoard {
        self.host.drifts()
    }

    /// Gives what is true now.
    pub fn truth(&self) -> Arc<Truth> {
        self.host.truth()
    }

    /// Notes what the watcher under test claims now.
    pub fn sighting(&self, sighting: Sighting) {
        self.log.note(EventKind::Sighting(sighting));
    }

    /// Gives everything observed so far, in order.
    pub fn events(&self) -> Vec<Event> {
        self.log.with(<[Event]>::to_vec)
    }

    /// Judges what was observed so far, as of a watcher that asks and claims once in this interval.
    pub fn verdict(
        &self,
        interval: Duration,
        oracle: impl FnOnce(&Trace<'_>) -> Verdict,
    ) -> Verdict {
        oracle(&Trace::new(&self.events(), Timing::every(interval)))
    }

    /// Ends the host and gives everything observed.
    pub async fn stop(self) -> Vec<Event> {
        let events = self.events();
        self.host.stop().await;
        events
    }
}
