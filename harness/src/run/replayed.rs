//! A watcher in front of a recorded session instead of a printer.
#![expect(clippy::disallowed_methods, reason = "it tells how long a run took")]

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use bytes::Bytes;
use coldbed_mock::server::Clock;
use coldbed_mock::sim::VirtualTime;
use coldbed_session::replay::{AtEnd, Matching, Replay, ReplayObserver, ReplayOptions};
use coldbed_session::{End, Exchange, Session};

use super::calibrate::{asked, example, gaps, path};
use super::decide::{is_decided, outcome};
use super::execute::is_over;
use super::stage::{FIRST_REQUEST_WITHIN, first_request, start};
use super::{Attempt, Calibration, CheckResult, Recorder, RunError, Setting};
use crate::check::{Check, Context, Field, scenario};
use crate::event::{Event, EventKind};
use crate::oracle::{Hears, Timing, Trace, Verdict};
use crate::power::Traffic;
use crate::recorded::{Expectations, Hearing};
use crate::watcher::Call;

/// Says which session a watcher is judged on, and how it is played.
#[derive(Debug, Clone)]
pub struct OnSession {
    /// The session.
    pub session: Arc<Session>,
    /// What the user expects of it.
    pub expectations: Expectations,
    /// Which recorded exchange answers a request.
    pub matching: Matching,
    /// Recorded seconds per real second.
    pub rate: f64,
}

/// A watcher that has met a failure may wait so long before it asks again (common practice: waits grow
/// to a minute and more).
const BACKED_OFF: Duration = Duration::from_secs(65);

/// So many polls after the last answer, the last one is still the one that is given: what follows from
/// it has been claimed then.
const POLLS_AFTER: u32 = 6;

/// How often it is looked whether all answers have been given.
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// Lets the watcher follow the session, and judges what it claimed; again where a rule was broken.
///
/// # Errors
/// [`RunError`] when there is nothing to judge.
pub async fn run_on_session(
    setting: &Setting,
    on: &OnSession,
    checks: &[Check],
    repeats: usize,
) -> Result<(Calibration, Vec<CheckResult>), RunError> {
    let mut attempts: Vec<Vec<Attempt>> = vec![Vec::new(); checks.len()];
    let mut calibration = None;
    loop {
        let began = Instant::now();
        let (events, delay) = observe(setting, on).await?;
        let measured = calibration.get_or_insert_with(|| measure(&events, setting.interval));
        if let Some(error) = nothing_understood(&events) {
            return Err(error);
        }
        let timing = Timing {
            harness_delay: delay,
            ..measured.timing
        };
        let events: Arc<[Event]> = events.into();
        let trace = Trace::new(&events, timing);
        let context = context(setting, measured);
        for (check, attempts) in checks.iter().zip(&mut attempts) {
            if !attempts.is_empty() && is_decided(attempts, repeats) {
                continue;
            }
            let verdict = match measured.reported.contains(&check.needs) {
                true => (check.oracle)(&trace, &context),
                false => Verdict::NotJudged {
                    reason: format!("the watcher does not report {}", check.needs.word()),
                },
            };
            attempts.push(Attempt {
                events: match verdict {
                    Verdict::Violated(_) => Arc::clone(&events),
                    _ => Arc::default(),
                },
                verdict,
                timing,
                took: began.elapsed(),
            });
        }
        if attempts
            .iter()
            .all(|attempts| is_decided(attempts, repeats))
        {
            let results = checks
                .iter()
                .zip(attempts)
                .map(|(check, attempts)| CheckResult {
                    check: *check,
                    outcome: outcome(&attempts, repeats),
                    attempts,
                });
            let results = results.collect();
            return Ok((measured.clone(), results));
        }
    }
}

/// Plays the session once.
async fn observe(setting: &Setting, on: &OnSession) -> Result<(Vec<Event>, Duration), RunError> {
    let span = setting.strain.begin();
    let log = Arc::new(Recorder::default());
    let hearing = Hearing::new(setting.dialect.first(), on.expectations.clone());
    let clock = Clock::paused_at(VirtualTime::ZERO);
    // Rates were checked where they were given.
    let _ = clock.set_rate(on.rate);
    clock.resume();
    let options = ReplayOptions {
        listen: (std::net::Ipv4Addr::LOCALHOST, 0).into(),
        tls: None,
        clock,
        matching: on.matching,
        at_end: AtEnd::Repeat,
        observer: Some(Arc::new(Noting {
            log: Arc::clone(&log),
            hearing: Mutex::new(hearing),
        })),
    };
    let replay = Replay::start(Arc::clone(&on.session), options).await?;
    let call = Call {
        url: replay.url().to_owned(),
        key: format!("key-of-session-{:08x}", setting.seed),
        dialect: setting.dialect_name.clone(),
        interval: Some(setting.interval),
        authority: None,
    };
    let running = start(&setting.watcher, &call, &log).await?;
    let followed = match first_request(&log, FIRST_REQUEST_WITHIN).await {
        Ok(()) => {
            follow(&log, &replay, on, setting.interval).await;
            Ok(())
        }
        Err(error) => Err(error),
    };
    let delay = span.worst();
    log.note(EventKind::RunEnded);
    let events = log.with(<[Event]>::to_vec);
    running.stop().await;
    replay.stop().await;
    followed.map(|()| (events, delay))
}

/// Waits until the watcher has had all there is, and had time to say what follows from it.
async fn follow(log: &Recorder, replay: &Replay, on: &OnSession, interval: Duration) {
    let slowest = on.session.exchanges.iter().map(|exchange| {
        let took = exchange.last_moment().saturating_sub(exchange.request.at);
        took.div_f64(on.rate)
    });
    let patience = BACKED_OFF + 10 * interval + slowest.max().unwrap_or_default();
    let length = on.session.length();
    loop {
        if log.with(is_over) {
            return;
        }
        let is_given = match on.matching {
            Matching::InOrder => replay.is_taken(),
            Matching::ByTime => replay.clock().now().since_start() >= length,
        };
        if is_given {
            break;
        }
        let last = log.with(|events| {
            let last = events.iter().rev().find(|event| event.is_request());
            last.map_or(Duration::ZERO, |event| event.at)
        });
        let waited = log.now().saturating_sub(last);
        if waited > patience {
            log.note(EventKind::StoppedAsking { waited });
            return;
        }
        tokio::time::sleep(LOOK_EVERY).await;
    }
    let timing = log.with(|events| measure(events, interval).timing);
    let rest = timing.unknown_within() + timing.freshness() + POLLS_AFTER * timing.longest_interval;
    log.wait_until(rest, is_over).await;
}

/// Says that nothing the watcher wrote is a claim, though it was told something.
fn nothing_understood(events: &[Event]) -> Option<RunError> {
    let is_claim = |event: &Event| matches!(event.kind, EventKind::Sighting(_));
    if events.iter().any(is_claim) || is_over(events) {
        return None;
    }
    let trace = Trace::new(events, Timing::every(Duration::from_secs(1)));
    let usable = Hears::of(&trace).usable().count();
    (usable >= 3).then(|| RunError::NoSighting {
        example: example(events),
    })
}

/// Measures the watcher's rhythm while it had usable answers: after others it may well ask more rarely.
fn measure(events: &[Event], wanted: Duration) -> Calibration {
    let trace = Trace::new(events, Timing::every(wanted));
    let hears = Hears::of(&trace);
    let usable: Vec<Duration> = hears.usable().map(|(at, _)| *at).collect();
    let troubled: Vec<Duration> = (hears.heard.iter())
        .filter(|(_, heard)| !heard.is_usable())
        .map(|(at, _)| *at)
        .collect();
    let is_calm = |from: Duration, until: Duration| {
        let after = troubled.partition_point(|at| *at < from);
        troubled.get(after).is_none_or(|at| *at > until)
    };
    let first = usable.first().copied().unwrap_or_default();
    let calm_gaps = |times: &[Duration]| {
        let pairs = times.windows(2);
        let calm: Vec<Duration> = pairs
            .filter(|pair| pair[0] >= first && is_calm(pair[0], pair[1]))
            .map(<[Duration]>::to_vec)
            .flat_map(|pair| gaps(&pair))
            .collect();
        usual(calm)
    };
    let claims: Vec<Duration> = trace.sightings.iter().map(|(at, _)| *at).collect();
    let (interval, longest) = calm_gaps(&asked(events)).unwrap_or((wanted, wanted));
    let (_, claim_gap) = calm_gaps(&claims).unwrap_or((interval, longest));
    let reported = Field::ALL.into_iter().filter(|field| {
        let mut sightings = trace.sightings.iter();
        sightings.any(|(_, sighting)| field.is_reported_in(sighting))
    });
    Calibration {
        timing: Timing {
            interval,
            longest_interval: longest,
            longest_idle_interval: longest,
            longest_claim_gap: claim_gap,
            harness_delay: Duration::ZERO,
        },
        reported: std::iter::once(Field::Nothing).chain(reported).collect(),
        traffic: Traffic::default(),
        processor_share: 0.0,
        asked: events.iter().filter_map(path).collect(),
        subscribes: false,
    }
}

/// Gives the median and the longest of the gaps that are no more than twice the median: beyond that it
/// is no rhythm.
fn usual(mut gaps: Vec<Duration>) -> Option<(Duration, Duration)> {
    gaps.sort_unstable();
    let median = *gaps.get(gaps.len() / 2)?;
    let longest = gaps.iter().rev().find(|gap| **gap <= 2 * median);
    Some((median, longest.copied().unwrap_or(median)))
}

fn context(setting: &Setting, measured: &Calibration) -> Context {
    Context {
        // Not looked at: there is no printer behind a session.
        scenario: scenario("printing"),
        timing: measured.timing,
        dialect: Arc::clone(&setting.dialect),
        key: String::new(),
        reported: measured.reported.clone(),
        asked: measured.asked.clone(),
        subscribes: false,
        takes_interval: setting.watcher.takes_interval(),
        commands: setting.watcher.commands(),
    }
}

/// Notes what is played.
struct Noting {
    log: Arc<Recorder>,
    hearing: Mutex<Hearing>,
}

impl ReplayObserver for Noting {
    fn connected(&self, connection: u64) {
        self.log.note(EventKind::ConnectionOpened { connection });
    }

    fn disconnected(&self, connection: u64) {
        self.log.note(EventKind::ConnectionClosed { connection });
    }

    fn asked(
        &self,
        connection: u64,
        number: u64,
        method: &str,
        target: &str,
        _recorded: Option<&Exchange>,
    ) {
        self.log.note(EventKind::Request {
            connection,
            exchange: number,
            method: method.to_owned(),
            target: target.to_owned(),
            headers: Vec::new(),
            body: Bytes::new(),
        });
    }

    fn answered(&self, number: u64, recorded: &Exchange, end: Option<End>) {
        // Nothing panics half-way through a hearing.
        let mut hearing = self.hearing.lock().unwrap_or_else(PoisonError::into_inner);
        let heard = Arc::new(hearing.hear(recorded, end));
        drop(hearing);
        self.log.note(EventKind::Replayed {
            exchange: number,
            heard,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stall_is_no_rhythm() {
        let ms = Duration::from_millis;
        assert_eq!(usual(Vec::new()), None);
        let gaps = vec![ms(400), ms(9000), ms(410), ms(390), ms(450)];
        assert_eq!(usual(gaps), Some((ms(410), ms(450))));
    }
}
