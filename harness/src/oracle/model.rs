//! A watcher and its host as a model in virtual time, for tests of oracles: what it would be observed
//! to do, and what it would be observed to do with a mistake in it.

use std::sync::{Arc, LazyLock};
use std::time::Duration;

use bytes::Bytes;
use coldbed_mock::fault::{Fault, Position, ScopedFault, Span};
use coldbed_mock::sim::{Phase, Simulation, Truth, VirtualTime};

use super::{Timing, Trace};
use crate::event::{Event, EventKind};
use crate::watcher::Sighting;

/// Is a mistake in a watcher.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mistake {
    /// It goes on showing the last value when a poll fails.
    KeepsTheLast,
    /// It shows what it could read of an answer that was cut.
    BelievesACutBody,
    /// It waits for an answer without end.
    NeverTimesOut,
    /// After a failure it never asks again.
    GivesUp,
    /// What it has once shown as finished stays so.
    Latches,
    /// It is gone after a failure.
    Ends,
}

/// Is a watcher: its rhythm, and how it shows what it knows. Times are ms.
#[derive(Debug, Clone, Copy)]
pub(super) struct Model {
    pub(super) interval: u64,
    pub(super) time_out: u64,
    /// From an answer to its claim.
    pub(super) handling: u64,
    /// Shows at a pace of its own, and says unknown when what it knows is too old.
    pub(super) display: Option<u64>,
    /// Shows only what has changed.
    pub(super) on_change: bool,
    /// Doubles its waits after failures, up to eight intervals.
    pub(super) backs_off: bool,
    pub(super) mistake: Option<Mistake>,
}

/// Says what happens to requests while the fault lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Trouble {
    /// They fail at once, and the host sees nothing of them.
    Refused,
    /// Nothing comes.
    Silent,
    /// The answer is cut.
    Cut,
    /// The answer is so late, ms.
    Late(u64),
    /// Every second connection is closed, as on reuse.
    EverySecond,
}

/// Is what happens to the host and to the watcher's process. Times are ms.
#[derive(Debug, Clone, Copy)]
pub(super) struct World {
    pub(super) trouble: Option<Trouble>,
    pub(super) raised: u64,
    pub(super) cleared: u64,
    /// When what is true changes.
    pub(super) change: u64,
    /// Whether it changes from a finished print to one under way, and not the other way round.
    pub(super) from_finished: bool,
    /// When the process is stopped, and when it goes on.
    pub(super) nap: Option<(u64, u64)>,
    pub(super) end: u64,
}

/// Gives two truths that differ in everything: a print in its middle, and the end of it.
pub(super) fn truths() -> [Arc<Truth>; 2] {
    static TRUTHS: LazyLock<[Arc<Truth>; 2]> = LazyLock::new(|| {
        let mut printer = Simulation::new(crate::check::scenario("many-jobs"), 1);
        let mut seconds = (0..).map(|s| VirtualTime::new(Duration::from_secs(s)));
        let mut first = |phase| loop {
            let at = seconds.next().expect("more");
            let truth = printer.truth_at(at);
            if truth.phase == phase {
                break printer.truth_at(at + Duration::from_secs(20));
            }
        };
        [Phase::Printing, Phase::Finished].map(|phase| Arc::new(first(phase)))
    });
    TRUTHS.clone()
}

/// Gives a claim of everything in a truth.
pub(super) fn claim_of(truth: &Truth) -> Sighting {
    let job = truth.job.as_ref().expect("a job");
    let line = serde_json::json!({
        "phase": truth.phase.word(),
        "progress-percent": job.progress_percent,
        "elapsed-seconds": job.elapsed_seconds,
        "heaters": { "extruder": { "target-celsius": truth.heaters["extruder"].target_celsius } },
    });
    Sighting::from_line(&line.to_string()).expect("a sighting")
}

pub(super) fn unknown() -> Sighting {
    Sighting::from_line(r#"{"phase":"unknown","heaters":{}}"#).expect("a sighting")
}

impl Model {
    /// Gives what calibration would measure.
    pub(super) fn timing(&self) -> Timing {
        let interval = ms(self.interval);
        Timing {
            interval,
            longest_interval: interval + ms(20),
            longest_idle_interval: interval + ms(20),
            longest_claim_gap: ms(self.display.unwrap_or(self.interval) + self.handling),
            harness_delay: ms(5),
        }
    }

    /// Gives everything that would be observed.
    pub(super) fn observed(&self, world: World) -> Vec<Event> {
        let mut run = Run {
            model: *self,
            world,
            events: Vec::new(),
            known: Vec::new(),
        };
        run.happenings();
        run.polls();
        run.shows();
        run.events.sort_by_key(|event| event.at);
        run.events
    }
}

/// Holds what a model was observed to do against an oracle.
pub(super) fn judge<T>(events: &[Event], timing: Timing, verify: impl Fn(&Trace<'_>) -> T) -> T {
    verify(&Trace::new(events, timing))
}

fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

struct Run {
    model: Model,
    world: World,
    events: Vec<Event>,
    /// What the watcher knows, and since when.
    known: Vec<(u64, Option<Arc<Truth>>)>,
}

impl Run {
    fn note(&mut self, at: u64, kind: EventKind) {
        self.events.push(Event { at: ms(at), kind });
    }

    fn happenings(&mut self) {
        let world = self.world;
        if world.trouble.is_some() {
            let fault = "trouble".to_owned();
            let begun = ms(world.raised);
            self.note(world.raised, EventKind::FaultRaised { fault, begun });
            self.note(world.cleared, EventKind::FaultCleared);
        }
        if let Some((asleep, awake)) = world.nap {
            self.note(asleep, EventKind::Suspended);
            self.note(awake, EventKind::Resumed);
        }
        let text = String::new();
        self.note(
            world.end,
            EventKind::Line {
                on_stderr: false,
                text,
            },
        );
    }

    /// Gives when the process does what it was to do at a moment.
    fn done_at(&self, at: u64) -> u64 {
        match self.world.nap {
            Some((asleep, awake)) if at >= asleep && at < awake => awake + 1,
            _ => at,
        }
    }

    fn polls(&mut self) {
        let (mut at, mut failures, mut exchange) = (0, 0_u32, 0);
        while at < self.world.end {
            at = self.done_at(at);
            exchange += 1;
            let (done, got) = self.poll(at, exchange);
            let is_failure = got.is_none();
            self.learn(done, got);
            let mistake = self.model.mistake;
            if is_failure && mistake == Some(Mistake::Ends) {
                let status = "exit status: 1".to_owned();
                return self.note(done, EventKind::Exited { status });
            }
            if is_failure && mistake == Some(Mistake::GivesUp) {
                return;
            }
            failures = if is_failure { failures + 1 } else { 0 };
            let factor = match self.model.backs_off {
                true => 1 << failures.saturating_sub(1).min(3),
                false => 1,
            };
            at = (at + self.model.interval * factor).max(done + 1);
        }
    }

    /// Gives when a poll is over and what it gave.
    fn poll(&mut self, at: u64, exchange: u64) -> (u64, Option<Arc<Truth>>) {
        let world = self.world;
        let in_force = at >= world.raised && at < world.cleared;
        let served = at + 2;
        match world.trouble.filter(|_| in_force) {
            Some(Trouble::Refused) => (at + 1, None),
            Some(Trouble::Silent) if self.model.mistake == Some(Mistake::NeverTimesOut) => {
                (world.end + 1, None)
            }
            Some(Trouble::Silent) => (self.done_at(at + self.model.time_out), None),
            Some(Trouble::Cut) => {
                let told = self.answer(
                    served,
                    exchange,
                    Some(Fault::Close {
                        at: Position::BodyByte(1),
                    }),
                );
                let believes = self.model.mistake == Some(Mistake::BelievesACutBody);
                (self.done_at(served + 1), believes.then_some(told))
            }
            Some(Trouble::Late(late)) => {
                let of = Fault::Latency {
                    of: Span::from_millis(late),
                    jitter: Span::ZERO,
                };
                let told = self.answer(served + late, exchange, Some(of));
                match late < self.model.time_out {
                    true => (self.done_at(served + late), Some(told)),
                    false => (self.done_at(at + self.model.time_out), None),
                }
            }
            Some(Trouble::EverySecond) if exchange.is_multiple_of(2) => {
                self.answer(served, exchange, Some(Fault::CloseOnReuse { reset: false }));
                (self.done_at(served), None)
            }
            Some(Trouble::EverySecond) | None => {
                let told = self.answer(served, exchange, None);
                (self.done_at(served), Some(told))
            }
        }
    }

    fn answer(&mut self, at: u64, exchange: u64, fault: Option<Fault>) -> Arc<Truth> {
        let [printing, finished] = truths();
        let is_finished = (at < self.world.change) == self.world.from_finished;
        let truth = if is_finished { finished } else { printing };
        if let Some(fault) = fault {
            let fault = Arc::new(ScopedFault::from(fault));
            let happened = EventKind::FaultHappened {
                connection: 1,
                exchange: Some(exchange),
                fault,
            };
            self.note(at, happened);
        }
        let answer = EventKind::Answer {
            exchange,
            status: 200,
            headers: Vec::new(),
            body: Bytes::from_static(b"{\"a\":1}"),
            truth: Arc::clone(&truth),
        };
        self.note(at, answer);
        truth
    }

    fn learn(&mut self, at: u64, got: Option<Arc<Truth>>) {
        let last = self.known.last().and_then(|(_, known)| known.clone());
        let [_, finished] = truths();
        let known = match (self.model.mistake, got) {
            (Some(Mistake::KeepsTheLast), None) => last,
            (Some(Mistake::Latches), _)
                if last
                    .as_ref()
                    .is_some_and(|last| Arc::ptr_eq(last, &finished)) =>
            {
                last
            }
            (_, got) => got,
        };
        self.known.push((at, known));
    }

    fn shows(&mut self) {
        let known = std::mem::take(&mut self.known);
        let moments: Vec<(u64, Option<Arc<Truth>>)> = match self.model.display {
            None => known
                .iter()
                .map(|(at, known)| (self.done_at(at + self.model.handling), known.clone()))
                .collect(),
            Some(pace) => (1..self.world.end / pace)
                .map(|tick| {
                    (
                        self.done_at(tick * pace),
                        self.fresh(&known, self.done_at(tick * pace)),
                    )
                })
                .collect(),
        };
        let mut shown: Option<Option<Arc<Truth>>> = None;
        for (at, truth) in moments {
            let is_same = shown.as_ref().is_some_and(|shown| match (shown, &truth) {
                (Some(shown), Some(truth)) => Arc::ptr_eq(shown, truth),
                (None, None) => true,
                _ => false,
            });
            if at < self.world.end && !(self.model.on_change && is_same) {
                let sighting = truth.as_ref().map_or_else(unknown, |truth| claim_of(truth));
                self.note(at, EventKind::Sighting(sighting));
                shown = Some(truth);
            }
        }
    }

    /// Gives what a display shows at a moment: the last that is known, if that is not too old.
    fn fresh(&self, known: &[(u64, Option<Arc<Truth>>)], at: u64) -> Option<Arc<Truth>> {
        let until = known.partition_point(|(since, _)| since + self.model.handling <= at);
        let (since, known) = &known[until.checked_sub(1)?];
        let too_old = 2 * self.model.interval + self.model.time_out;
        let keeps = matches!(
            self.model.mistake,
            Some(Mistake::KeepsTheLast | Mistake::NeverTimesOut)
        );
        known.clone().filter(|_| keeps || at <= since + too_old)
    }
}
