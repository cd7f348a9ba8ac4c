//! Measuring a watcher's rhythm before it is judged.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::VirtualTime;

use super::RunError;
use super::stage::{Setting, Stage};
use super::traffic::traffic_of;
use crate::check::{Field, Plan};
use crate::event::{Event, EventKind};
use crate::oracle::{self, Timing};
use crate::power::Traffic;

/// Is what was measured.
#[derive(Debug, Clone)]
pub struct Calibration {
    /// The rhythm.
    pub timing: Timing,
    /// What the watcher reports.
    pub reported: BTreeSet<Field>,
    /// What crossed the network while something was printed.
    pub traffic: Traffic,
    /// The share of one processor that it uses while it polls; 0 where that cannot be measured.
    pub processor_share: f64,
    /// The paths it asked for, without queries.
    pub asked: BTreeSet<String>,
    /// Whether it is told of changes on a stream rather than asking again and again.
    pub subscribes: bool,
}

/// Polls wanted while the printer is idle: two intervals.
const WANTED_IDLE: usize = 3;
/// Polls wanted while it prints: five intervals.
const WANTED: usize = 6;
/// After this, two intervals do: somebody polls once in half a minute.
const PATIENCE: Duration = Duration::from_secs(20);
/// After this there is no point in waiting for more.
const LIMIT: Duration = Duration::from_secs(200);

/// Lets the watcher follow an ordinary print and measures its rhythm and what it reports.
///
/// # Errors
/// [`RunError`] when the watcher cannot be started, asks for nothing, gets no good answer or says
/// nothing that could be understood.
pub async fn calibrate(
    setting: &Setting,
    scenario: Arc<Scenario>,
) -> Result<Calibration, RunError> {
    let stage = Stage::open(setting, scenario, &Plan::default(), "calibration-key").await?;
    // A device on a battery may ask every five minutes.
    let limit = setting
        .attach
        .as_ref()
        .map_or(LIMIT, |attach| attach.patience.max(LIMIT));
    stage
        .log
        .wait_until(PATIENCE, enough(WANTED_IDLE, Duration::ZERO))
        .await;
    // Well into the print, where everything there is to report is reported.
    let _ = stage
        .host
        .clock()
        .jump_to(VirtualTime::new(Duration::from_secs(300)));
    let printing = stage.log.now();
    let used_before = stage.processor_time();
    stage.run_clock(10.0);
    if !stage
        .log
        .wait_until(PATIENCE, enough(WANTED, printing))
        .await
    {
        stage
            .log
            .wait_until(limit - PATIENCE, enough(3, printing))
            .await;
    }
    // The claim that follows the last answer.
    let settle = Duration::from_millis(300);
    stage.log.wait_until(settle, |_| false).await;
    let harness_delay = stage.worst_delay();
    let passed = stage.log.now().saturating_sub(printing);
    let used = stage.processor_time().saturating_sub(used_before);
    let events = stage.close().await;
    let measured = measure(&events, printing, harness_delay, setting.attach.is_none())?;
    Ok(Calibration {
        processor_share: used.as_secs_f64() / passed.as_secs_f64().max(0.1),
        ..measured
    })
}

/// Gives the condition that there were so many polls since a moment, or that there will be no more.
fn enough(wanted: usize, since: Duration) -> impl FnMut(&[Event]) -> bool {
    move |events| {
        let polls = polls(events);
        polls.iter().filter(|at| **at >= since).count() >= wanted
            || events.iter().any(Event::is_exit)
    }
}

/// Takes the measures from the events of a calibration run.
fn measure(
    events: &[Event],
    printing: Duration,
    harness_delay: Duration,
    must_claim: bool,
) -> Result<Calibration, RunError> {
    let statuses: Vec<u16> = events.iter().filter_map(status).collect();
    if !statuses.contains(&200) {
        return Err(RunError::NeverAnswered {
            requests: events.iter().filter(|event| event.is_request()).count(),
            status: statuses.last().copied().unwrap_or(0),
        });
    }
    let sightings: Vec<_> = events
        .iter()
        .filter_map(|event| match &event.kind {
            EventKind::Sighting(sighting) => Some((event.at, sighting)),
            _ => None,
        })
        .collect();
    // A device that shows what it sees on a display only is judged by its requests.
    if sightings.is_empty() && must_claim {
        return Err(RunError::NoSighting {
            example: example(events),
        });
    }
    let claims: Vec<Duration> = sightings.iter().map(|(at, _)| *at).collect();
    let subscribes = subscribes(events);
    let mut polls = polls(events);
    let of_print = polls.split_off(polls.partition_point(|at| *at < printing));
    let idle = gaps(&polls);
    let mut intervals = gaps(&of_print);
    intervals.sort_unstable();
    let longest = intervals.last().copied().unwrap_or(LIMIT);
    let is_reported = |field: &Field| {
        sightings
            .iter()
            .any(|(_, sighting)| field.is_reported_in(sighting))
    };
    let timing = Timing {
        interval: intervals
            .get(intervals.len() / 2)
            .copied()
            .unwrap_or(longest),
        longest_interval: longest,
        longest_idle_interval: idle.into_iter().max().unwrap_or(longest),
        longest_claim_gap: gaps(&claims).into_iter().max().unwrap_or(longest),
        harness_delay,
    };
    Ok(Calibration {
        timing: match subscribes {
            true => oracle::stream_timing(timing),
            false => timing,
        },
        subscribes,
        processor_share: 0.0,
        traffic: traffic_of(&events[events.partition_point(|event| event.at < printing)..]),
        reported: std::iter::once(Field::Nothing)
            .chain(Field::ALL.into_iter().filter(is_reported))
            .collect(),
        asked: events.iter().filter_map(path).collect(),
    })
}

/// Tells whether a watcher is told more often than it asks.
fn subscribes(events: &[Event]) -> bool {
    pushes(events).len() > asked(events).len()
}

fn pushes(events: &[Event]) -> Vec<Duration> {
    let is_pushed = |event: &&Event| matches!(event.kind, EventKind::Pushed { .. });
    events
        .iter()
        .filter(is_pushed)
        .map(|event| event.at)
        .collect()
}

/// Gives the times of the polls; of a watcher that subscribes those at which it was told something.
pub(super) fn polls(events: &[Event]) -> Vec<Duration> {
    match subscribes(events) {
        true => pushes(events),
        false => asked(events),
    }
}

/// Gives the times of the requests for the target asked for most often, since a watcher may ask for
/// several in one poll.
pub(super) fn asked(events: &[Event]) -> Vec<Duration> {
    let mut by_target: Vec<(&str, Vec<Duration>)> = Vec::new();
    for event in events {
        let EventKind::Request { target, .. } = &event.kind else {
            continue;
        };
        // A query may differ at each poll, to get past a cache.
        let path = target.split('?').next().unwrap_or(target);
        match by_target.iter_mut().find(|(known, _)| *known == path) {
            Some((_, times)) => times.push(event.at),
            None => by_target.push((path, vec![event.at])),
        }
    }
    by_target
        .into_iter()
        .map(|(_, times)| times)
        .max_by_key(Vec::len)
        .unwrap_or_default()
}

pub(super) fn path(event: &Event) -> Option<String> {
    let EventKind::Request { target, .. } = &event.kind else {
        return None;
    };
    let path = target.split('?').next().unwrap_or(target);
    let decoded = percent_encoding::percent_decode_str(path);
    Some(decoded.decode_utf8_lossy().into_owned())
}

pub(super) fn gaps(times: &[Duration]) -> Vec<Duration> {
    times
        .windows(2)
        .map(|pair| pair[1].saturating_sub(pair[0]))
        .collect()
}

fn status(event: &Event) -> Option<u16> {
    match event.kind {
        EventKind::Answer { status, .. } => Some(status),
        _ => None,
    }
}

pub(super) fn example(events: &[Event]) -> String {
    let line = events.iter().find_map(|event| match &event.kind {
        EventKind::Line { text, .. } if !text.is_empty() => Some(text),
        _ => None,
    });
    line.map_or_else(String::new, |line| format!(", such as `{line}`"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn request(at_ms: u64, target: &str) -> Event {
        Event {
            at: Duration::from_millis(at_ms),
            kind: EventKind::Request {
                connection: 1,
                exchange: at_ms,
                method: "GET".to_owned(),
                target: target.to_owned(),
                headers: Vec::new(),
                body: bytes::Bytes::new(),
            },
        }
    }

    #[test]
    fn two_requests_in_one_poll_do_not_halve_the_interval() {
        let events: Vec<Event> = (0..4)
            .flat_map(|poll| {
                [
                    request(poll * 1000, "/printer"),
                    request(poll * 1000 + 20, "/job"),
                ]
            })
            .collect();
        assert_eq!(gaps(&polls(&events)), [Duration::from_secs(1); 3]);
    }

    #[test]
    fn a_watcher_that_is_told_more_often_than_it_asks_is_measured_by_what_it_is_told() {
        let scenario = crate::check::scenario("printing");
        let mut simulation = coldbed_mock::sim::Simulation::new(scenario, 1);
        let truth = Arc::new(simulation.truth_at(VirtualTime::ZERO));
        let pushed = |at_ms| Event {
            at: Duration::from_millis(at_ms),
            kind: EventKind::Pushed {
                exchange: 1,
                bytes: bytes::Bytes::new(),
                truth: std::sync::Arc::clone(&truth),
            },
        };
        let mut events = vec![request(0, "/printer/events")];
        events.extend([500, 1000, 1500].map(pushed));
        assert!(subscribes(&events));
        assert_eq!(gaps(&polls(&events)), [Duration::from_millis(500); 2]);
        // One that asks as well, each time it is told, polls.
        events.extend([510, 1010, 1510].map(|at| request(at, "/job")));
        assert!(!subscribes(&events));
    }

    #[test]
    fn a_path_is_known_decoded_and_without_its_query() {
        let asked = request(0, "/heaters/left%20nozzle?n=1");
        assert_eq!(path(&asked).unwrap(), "/heaters/left nozzle");
    }

    #[test]
    fn a_query_that_differs_at_each_poll_is_the_same_target() {
        let events = [request(0, "/printer?n=1"), request(500, "/printer?n=2")];
        assert_eq!(polls(&events).len(), 2);
    }
}
