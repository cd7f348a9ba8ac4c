//! One trial: the command in front of a session.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::server::Clock;
use coldbed_mock::sim::VirtualTime;
use coldbed_session::Session;
use coldbed_session::replay::{AtEnd, Matching, Replay, ReplayOptions};
use regex::Regex;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until};

use super::rule::Rule;
use crate::shrink::delta::Trial;
use crate::watcher::{Call, Output, Watcher};

/// Says what failing is.
#[derive(Debug)]
pub(super) enum Fails {
    /// It ends with another status than 0, or by a signal.
    EndsBadly,
    /// It ends with this status.
    EndsWith(u8),
    /// It prints this text.
    Prints(String),
    /// It prints a line that matches.
    Matches(Regex),
    /// It breaks a rule of those on a session.
    Breaks(Box<Rule>),
}

/// Says how trials are run.
pub(super) struct Runs {
    pub(super) watcher: Watcher,
    pub(super) rate: f64,
    pub(super) patience: Duration,
    pub(super) grace: Duration,
    pub(super) repeats: u8,
    pub(super) interval: Duration,
    pub(super) fails: Fails,
}

/// How often it is looked whether all answers have been given.
const LOOK_EVERY: Duration = Duration::from_millis(20);

impl Runs {
    /// Says what failing is.
    pub(super) fn told(&self) -> String {
        match &self.fails {
            Fails::EndsBadly => {
                "it does not end with a status other than 0 or by a signal".to_owned()
            }
            Fails::EndsWith(status) => format!("it does not end with status {status}"),
            Fails::Prints(text) => format!("it does not print `{text}`"),
            Fails::Matches(pattern) => format!("it prints no line that matches `{pattern}`"),
            Fails::Breaks(rule) => format!("it does not break `{}`", rule.id()),
        }
    }

    /// Runs the command once. What cannot be run has not failed.
    async fn fails_once(&self, session: &Session) -> bool {
        if let Fails::Breaks(rule) = &self.fails {
            return rule.is_broken(&self.watcher, session, self.rate).await;
        }
        let clock = Clock::paused_at(VirtualTime::ZERO);
        // Rates were checked where they were given.
        let _ = clock.set_rate(self.rate);
        clock.resume();
        let options = ReplayOptions {
            listen: (std::net::Ipv4Addr::LOCALHOST, 0).into(),
            tls: None,
            clock,
            matching: Matching::InOrder,
            at_end: AtEnd::NotFound,
            observer: None,
        };
        let Ok(replay) = Replay::start(Arc::new(session.clone()), options).await else {
            return false;
        };
        let call = Call {
            url: replay.url().to_owned(),
            key: "key".to_owned(),
            dialect: "plain".to_owned(),
            interval: Some(self.interval),
            authority: None,
        };
        let (sink, mut output) = mpsc::unbounded_channel();
        let Ok(running) = self.watcher.start(&call, sink).await else {
            replay.stop().await;
            return false;
        };
        let failed = self.observe(&replay, &mut output).await;
        running.stop().await;
        replay.stop().await;
        failed
    }

    /// Waits until it fails, ends, has had all there is, or has taken too long.
    async fn observe(&self, replay: &Replay, output: &mut mpsc::UnboundedReceiver<Output>) -> bool {
        let began = Instant::now();
        let mut until = began + self.patience;
        let mut is_given = false;
        let mut looking = tokio::time::interval(LOOK_EVERY);
        loop {
            tokio::select! {
                biased;
                said = output.recv() => match said {
                    Some(Output::Line { text, .. }) => if self.is_printed(&text) {
                        return true;
                    },
                    Some(Output::Exited(status)) => return self.is_ended(&status),
                    Some(Output::Sighting(_)) => {}
                    None => return false,
                },
                () = sleep_until(until) => return false,
                _ = looking.tick(), if !is_given => if replay.is_taken() {
                    is_given = true;
                    until = until.min(Instant::now() + self.grace);
                },
            }
        }
    }

    fn is_printed(&self, line: &str) -> bool {
        match &self.fails {
            Fails::Prints(text) => line.contains(text.as_str()),
            Fails::Matches(pattern) => pattern.is_match(line),
            Fails::EndsBadly | Fails::EndsWith(_) | Fails::Breaks(_) => false,
        }
    }

    fn is_ended(&self, status: &str) -> bool {
        // As the system's own words have it: `exit status: 1`, `signal: 11 (SIGSEGV)`.
        let code = status
            .strip_prefix("exit status: ")
            .and_then(|code| code.parse::<i32>().ok());
        match &self.fails {
            Fails::EndsBadly => code != Some(0),
            Fails::EndsWith(wanted) => code == Some(i32::from(*wanted)),
            Fails::Prints(_) | Fails::Matches(_) | Fails::Breaks(_) => false,
        }
    }
}

impl Trial<Session> for Runs {
    fn fails<'a>(
        &'a self,
        candidate: &'a Session,
    ) -> Pin<Box<dyn Future<Output = bool> + Send + 'a>> {
        Box::pin(async move {
            for _ in 0..self.repeats {
                if !self.fails_once(candidate).await {
                    return false;
                }
            }
            true
        })
    }
}
