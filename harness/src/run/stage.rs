//! A private mock host with one watcher in front of it.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::{AuthScheme, DialectFile};
use coldbed_mock::fault::CertificateKind;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, ControlOptions, Host, HostOptions, Tls};
use coldbed_mock::sim::Simulation;
use tokio::sync::mpsc;

use super::attach::Attach;
use super::elsewhere::Elsewhere;
use super::strain::{Span, StrainMeter};
use super::{Recorder, RunError};
use crate::check::{Awaited, Plan, Setup};
use crate::event::{Event, EventKind};
use crate::oracle;
use crate::watcher::{Call, CommandKind, Output, RunningWatcher, Watcher};

/// Is what all runs share: the watcher, the dialect it speaks, the seed.
#[derive(Debug, Clone)]
pub struct Setting {
    /// The client under test.
    pub watcher: Watcher,
    /// The dialect, as named on the command line.
    pub dialect_name: String,
    /// The dialect itself.
    pub dialect: Arc<DialectFile>,
    /// The seed of every simulation.
    pub seed: u64,
    /// How often a watcher that takes an interval is to ask, where a plan wants nothing else.
    pub interval: Duration,
    /// Where a device that is not started from here finds the host.
    pub attach: Option<Attach>,
    /// How strained the machine is.
    pub strain: Arc<StrainMeter>,
}

/// How long a watcher may take from its start to its first request (own choice: an interpreter on
/// a loaded machine needs some seconds, nothing needs this many).
pub(super) const FIRST_REQUEST_WITHIN: Duration = Duration::from_secs(15);

/// A device without sightings has come over a change of hosts after so many answers.
const ANSWERS_ENOUGH: usize = 3;

/// Is a running mock, the watcher in front of it, and the log of both.
pub(super) struct Stage {
    pub(super) host: Host,
    pub(super) log: Arc<Recorder>,
    pub(super) elsewhere: Option<Elsewhere>,
    span: Span,
    watcher: Watcher,
    call: Call,
    running: Arc<RunningWatcher>,
    companions: Vec<RunningWatcher>,
    /// Keeps the authority's file while the watcher may read it.
    _authority: Option<tempfile::TempDir>,
}

impl Stage {
    /// Starts both with the clock standing at a plan's first moment, and waits for the first request.
    pub(super) async fn open(
        setting: &Setting,
        scenario: Arc<Scenario>,
        plan: &Plan,
        key: &str,
    ) -> Result<Self, RunError> {
        let attach = setting.attach.as_ref();
        let key = attach.map_or(key, |attach| attach.key.as_str());
        let span = setting.strain.begin();
        let log = Arc::new(Recorder::default());
        let (tls, authority) = match certified(plan.setup)? {
            Some(Certified { tls, dir, file }) => (Some(tls), Some((dir, file))),
            None => (None, None),
        };
        let host = host(setting, scenario, plan, key, tls, &log).await?;
        let elsewhere = match plan.setup.elsewhere {
            true => Some(
                Elsewhere::open(Arc::clone(&log))
                    .await
                    .map_err(RunError::Own)?,
            ),
            false => None,
        };
        let call = Call {
            url: host.url(),
            key: key.to_owned(),
            dialect: setting.dialect_name.clone(),
            interval: Some(plan.setup.interval.unwrap_or(setting.interval)),
            authority: authority.as_ref().map(|(_, file)| file.clone()),
        };
        let running = start(&setting.watcher, &call, &log).await?;
        let stage = Self {
            host,
            log,
            elsewhere,
            span,
            watcher: setting.watcher.clone(),
            call,
            running: Arc::new(running),
            companions: Vec::new(),
            _authority: authority.map(|(dir, _)| dir),
        };
        let patience = attach.map_or(FIRST_REQUEST_WITHIN, |attach| attach.patience);
        first_request(&stage.log, patience).await?;
        if let Some(attach) = attach {
            stage.settle(attach).await;
        }
        stage.with_companions(plan.setup.companions).await
    }

    /// Waits until a device that was there before has come over the change of hosts, and forgets what
    /// was seen until then.
    async fn settle(&self, attach: &Attach) {
        let is_live = |events: &[Event]| {
            let since = Duration::ZERO;
            oracle::has_happened(events, since, Awaited::LiveClaim)
                || oracle::has_happened(events, since, Awaited::Answers(ANSWERS_ENOUGH))
        };
        self.log.wait_until(attach.patience, is_live).await;
        self.log.forget();
    }

    /// Adds more of the same watcher, of which only the requests count.
    async fn with_companions(mut self, count: usize) -> Result<Self, RunError> {
        for _ in 0..count {
            let (sink, mut output) = mpsc::unbounded_channel();
            self.companions
                .push(self.watcher.start(&self.call, sink).await?);
            tokio::spawn(async move { while output.recv().await.is_some() {} });
        }
        Ok(self)
    }

    /// Starts the watcher again after it has ended.
    pub(super) async fn restart(&mut self) -> Result<(), RunError> {
        self.running = Arc::new(start(&self.watcher, &self.call, &self.log).await?);
        self.log.note(EventKind::Restarted);
        Ok(())
    }

    /// Stops the watcher's processes, or lets them go on. Without a process nothing happens.
    pub(super) fn suspend(&self, asleep: bool) {
        let (done, kind) = if asleep {
            (self.running.suspend(), EventKind::Suspended)
        } else {
            (self.running.resume(), EventKind::Resumed)
        };
        if done {
            self.log.note(kind);
        }
    }

    /// Tells the watcher to ask something of the printer.
    pub(super) async fn give(&self, command: CommandKind) -> Result<(), RunError> {
        self.log.note(EventKind::CommandGiven {
            command: command.word().to_owned(),
        });
        self.watcher
            .give(command, &self.call, &self.running)
            .await?;
        Ok(())
    }

    /// Notes what the watcher uses, over and over, until the task is dropped.
    pub(super) fn measure(&self, every: Duration) -> tokio::task::JoinHandle<()> {
        let (running, log) = (Arc::clone(&self.running), Arc::clone(&self.log));
        tokio::spawn(async move {
            let mut pace = tokio::time::interval(every);
            loop {
                pace.tick().await;
                if let Some(resources) = running.resources() {
                    log.note(EventKind::Resources(resources));
                }
            }
        })
    }

    /// Gives the processor time that the watcher has used; zero where that cannot be measured.
    pub(super) fn processor_time(&self) -> Duration {
        let resources = self.running.resources();
        resources.map_or(Duration::ZERO, |resources| resources.cpu)
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

    /// Gives how late this machine ran at worst since the stage was opened.
    pub(super) fn worst_delay(&self) -> Duration {
        self.span.worst()
    }

    /// Ends both and gives what was observed.
    pub(super) async fn close(self) -> Vec<Event> {
        let events = self.log.with(<[Event]>::to_vec);
        for companion in self.companions {
            companion.stop().await;
        }
        if let Some(running) = Arc::into_inner(self.running) {
            running.stop().await;
        }
        self.host.stop().await;
        events
    }
}

async fn host(
    setting: &Setting,
    scenario: Arc<Scenario>,
    plan: &Plan,
    key: &str,
    tls: Option<Tls>,
    log: &Arc<Recorder>,
) -> Result<Host, RunError> {
    let asks = *setting.dialect.first().auth() != AuthScheme::None;
    let options = HostOptions {
        key: asks.then(|| key.to_owned()),
        clock: Clock::paused_at(plan.start()),
        observer: Some(Arc::clone(log) as _),
        tls,
        listen: setting
            .attach
            .as_ref()
            .map_or((std::net::Ipv4Addr::LOCALHOST, 0).into(), |attach| {
                attach.listen
            }),
        control: plan.has_events().then(ControlOptions::default),
        ..HostOptions::on_loopback(
            Simulation::new(scenario, setting.seed),
            Arc::clone(&setting.dialect),
        )
    };
    Ok(Host::start(options).await?)
}

/// Is what a host speaks TLS with, and where the certificate of its authority is.
struct Certified {
    tls: Tls,
    dir: tempfile::TempDir,
    file: PathBuf,
}

/// Makes a certificate, and writes its authority's to a file that the watcher is told of.
fn certified(setup: Setup) -> Result<Option<Certified>, RunError> {
    if !setup.tls {
        return Ok(None);
    }
    let tls = Tls::new(CertificateKind::Good, std::net::Ipv4Addr::LOCALHOST.into())
        .map_err(|error| RunError::Own(std::io::Error::other(error)))?;
    let dir = tempfile::tempdir().map_err(RunError::Own)?;
    let file = dir.path().join("authority.pem");
    std::fs::write(&file, tls.authority_pem()).map_err(RunError::Own)?;
    Ok(Some(Certified { tls, dir, file }))
}

/// Waits for the first request.
///
/// # Errors
/// [`RunError::NeverAsked`], with what the watcher said last.
pub(super) async fn first_request(log: &Recorder, patience: Duration) -> Result<(), RunError> {
    let decided = |events: &[Event]| {
        events
            .iter()
            .any(|event| event.is_request() || event.is_exit())
    };
    // A watcher that refuses the connection for itself, as with a bad certificate, asks nothing.
    log.wait_until(patience, decided).await;
    if log.with(|events| events.iter().any(Event::is_request)) {
        return Ok(());
    }
    Err(RunError::NeverAsked {
        seconds: patience.as_secs(),
        last_words: log.with(last_words),
    })
}

/// Starts a watcher whose output goes into the log.
pub(super) async fn start(
    watcher: &Watcher,
    call: &Call,
    log: &Arc<Recorder>,
) -> Result<RunningWatcher, RunError> {
    let (sink, output) = mpsc::unbounded_channel();
    let running = watcher.start(call, sink).await?;
    tokio::spawn(take_down(output, Arc::clone(log)));
    Ok(running)
}

async fn take_down(mut output: mpsc::UnboundedReceiver<Output>, log: Arc<Recorder>) {
    while let Some(output) = output.recv().await {
        log.note(match output {
            Output::Sighting(sighting) => EventKind::Sighting(sighting),
            Output::Line { on_stderr, text } => EventKind::Line { on_stderr, text },
            Output::Exited(status) => EventKind::Exited { status },
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
