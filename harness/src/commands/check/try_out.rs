//! `coldbed check --try`: a watcher in front of the mock, and what is understood of it as it comes.

use std::io::Write as _;
use std::net::Ipv4Addr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use coldbed_mock::dialect::AuthScheme;
use coldbed_mock::server::{Clock, Host, HostOptions, Observer, WireEvent};
use coldbed_mock::sim::{Simulation, VirtualTime};
use tokio::sync::mpsc;

use super::super::serve::Ending;
use super::tried::Tried;
use crate::check::scenario;
use crate::commands::Failure;
use crate::exit_code::Outcome;
use crate::run::{RunError, Setting};
use crate::watcher::{Call, RunningWatcher, Told};

/// Virtual seconds per real second: a heater is warm within ten seconds, and everything changes (own
/// choice).
const RATE: f64 = 20.0;
/// The key, where the dialect asks for one.
const KEY: &str = "try-key";

/// Starts the mock and the watcher, shows what is understood until the time is over, the watcher ends
/// or somebody has seen enough, and sums it up.
pub(super) async fn try_out(setting: &Setting, lasts: Duration) -> Result<Outcome, Failure> {
    let requests = Arc::new(Requests::default());
    let host = host(setting, Arc::clone(&requests)).await?;
    let (sink, mut told) = mpsc::unbounded_channel();
    let call = Call {
        url: host.url(),
        key: key(setting).to_owned(),
        dialect: setting.dialect_name.clone(),
        interval: None,
        authority: None,
    };
    let tell = move |what| {
        // Nobody listens any more once the time is over.
        let _ = sink.send(what);
    };
    let mut ending = Ending::watch()?;
    let watcher = setting.watcher.start_telling(&call, Arc::new(tell)).await;
    let watcher = watcher.map_err(|error| {
        let error = RunError::from(error);
        Failure::new(error.outcome(), error)
    })?;
    let mut tried = Tried::new(setting.watcher.form().map(AsRef::as_ref));
    show(&beginning(setting, &host, &watcher))?;
    let began = tokio::time::Instant::now();
    let until = began + lasts;
    loop {
        let what = tokio::select! {
            what = told.recv() => what,
            () = tokio::time::sleep_until(until) => break,
            () = ending.wait() => break,
        };
        let Some(what) = what else { break };
        let is_end = matches!(what, Told::Exited(_));
        show(&tried.told(began.elapsed(), &what, &host.truth()))?;
        if is_end {
            break;
        }
    }
    watcher.stop().await;
    host.stop().await;
    show(&tried.summary())?;
    show(&requests.summary())?;
    Ok(if tried.sightings() > 0 {
        Outcome::Done
    } else {
        Outcome::NoWatcher
    })
}

/// Gives the key that a device was told, or one of our own.
fn key(setting: &Setting) -> &str {
    setting.attach.as_ref().map_or(KEY, |attach| &attach.key)
}

async fn host(setting: &Setting, requests: Arc<Requests>) -> Result<Host, Failure> {
    let asks = *setting.dialect.first().auth() != AuthScheme::None;
    let clock = Clock::paused_at(VirtualTime::ZERO);
    // A rate that is finite and positive.
    let _ = clock.set_rate(RATE);
    clock.resume();
    let simulation = Simulation::new(scenario("heat-up"), setting.seed);
    let options = HostOptions {
        key: asks.then(|| key(setting).to_owned()),
        listen: setting
            .attach
            .as_ref()
            .map_or((Ipv4Addr::LOCALHOST, 0).into(), |attach| attach.listen),
        clock,
        observer: Some(requests as _),
        ..HostOptions::on_loopback(simulation, Arc::clone(&setting.dialect))
    };
    let host = Host::start(options).await;
    host.map_err(|error| Failure::new(Outcome::OwnFault, error))
}

fn beginning(setting: &Setting, host: &Host, watcher: &RunningWatcher) -> String {
    let mut text = format!("watcher {}\n", setting.watcher.name());
    text += &format!(
        "mock on {}, key {}, heat-up at {RATE} times its pace\n",
        host.url(),
        key(setting)
    );
    if let Some(url) = watcher.callback_url() {
        text += &format!("sightings are posted to {url}\n");
    }
    text
}

/// Writes to stdout. A reader that has seen enough, such as `head`, ends the command.
fn show(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())
        .and_then(|()| out.flush())
        .map_err(|error| Failure::new(Outcome::OwnFault, error))
}

/// Counts what the watcher asks the mock for.
#[derive(Debug, Default)]
struct Requests(Mutex<(usize, Option<u16>)>);

impl Requests {
    fn summary(&self) -> String {
        match *self.0.lock().unwrap_or_else(PoisonError::into_inner) {
            (0, _) => {
                "the mock was asked for nothing [does the watcher know its URL?]\n".to_owned()
            }
            (1, Some(status)) => format!("the mock was asked once, and answered {status}\n"),
            (count, Some(status)) => {
                format!("the mock was asked {count} times, and last answered {status}\n")
            }
            (count, None) => format!("the mock was asked {count} times, and answered nothing\n"),
        }
    }
}

impl Observer for Requests {
    fn observe(&self, _at: Instant, event: WireEvent) {
        let mut seen = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        match event {
            WireEvent::RequestReceived { .. } => seen.0 += 1,
            WireEvent::AnswerSent { status, .. } => seen.1 = Some(status.as_u16()),
            _ => {}
        }
    }
}
