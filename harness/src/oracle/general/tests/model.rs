//! Watchers as small models, and the weather that they live in.

use std::sync::{Arc, OnceLock};
use std::time::Duration;

use coldbed_mock::drift::{AddMember, Drift, ReplaceByNull, Scale};
use coldbed_mock::fault::{Fault, Position, RetryAfter, Span as FaultSpan};
use coldbed_mock::sim::{Simulation, Trouble, Truth, VirtualTime};
use http::StatusCode;

use crate::event::{Event, EventKind};
use crate::watcher::{Claim, PhaseClaim, Sighting};

/// One poll a second, one minute of the printer's life each, on a printer whose values change with
/// every job: forty short jobs.
const LONGEST: usize = 120;

fn truths() -> &'static [Arc<Truth>] {
    static TRUTHS: OnceLock<Vec<Arc<Truth>>> = OnceLock::new();
    TRUTHS.get_or_init(|| {
        let scenario = crate::check::scenario("many-jobs");
        let mut simulation = Simulation::new(scenario, 1);
        let at = |second: usize| VirtualTime::new(Duration::from_secs(60 * second as u64));
        (0..=LONGEST)
            .map(|second| Arc::new(simulation.truth_at(at(second))))
            .collect()
    })
}

fn note() -> AddMember {
    AddMember {
        member: "note".to_owned(),
        value: serde_json::json!("new"),
    }
}

/// Is what a poll meets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Weather {
    Good,
    /// 503, which asks to wait for so many seconds if any.
    Busy(u64),
    /// Nobody listens.
    Refused,
    /// The host restarts by its timeline.
    Away,
    /// Each answer comes so many milliseconds late.
    Late(u64),
    /// The answer is cut.
    Cut,
    /// The extruder's target is null.
    NullTarget,
    /// The extruder's target is told in Fahrenheit.
    Fahrenheit,
    /// There is a member that nobody knows.
    Extra,
    /// There is one where the members are heaters.
    ExtraHeater,
    /// The whole body is null.
    NullBody,
}

impl Weather {
    fn trouble(self) -> Option<Trouble> {
        let fault = |fault: Fault| Trouble::Fault(Arc::new(fault.into()));
        let drift = |drift: Drift| Trouble::Drift(Arc::new(drift));
        let target = "/heaters/extruder/target-celsius";
        Some(match self {
            Self::Good | Self::Away => return None,
            Self::Busy(0) => fault(Fault::status(StatusCode::SERVICE_UNAVAILABLE)),
            Self::Busy(seconds) => fault(Fault::Status {
                code: StatusCode::SERVICE_UNAVAILABLE,
                retry_after: Some(RetryAfter::Seconds(seconds)),
            }),
            Self::Refused => fault(Fault::Refuse),
            Self::Late(millis) => fault(Fault::Latency {
                of: FaultSpan::from_millis(millis),
                jitter: FaultSpan::ZERO,
            }),
            Self::Cut => fault(Fault::Close {
                at: Position::HeadEnd,
            }),
            Self::NullTarget => drift(Drift::of(target, ReplaceByNull)),
            Self::Fahrenheit => drift(Drift::of(
                target,
                Scale {
                    factor: 1.8,
                    offset: 32.0,
                },
            )),
            Self::Extra => drift(Drift::of("", note())),
            Self::ExtraHeater => drift(Drift::of("/heaters", note())),
            Self::NullBody => drift(Drift::of("", ReplaceByNull)),
        })
    }
}

/// Is what a watcher gets for a poll.
enum Got<'a> {
    Nothing,
    Wait(u64),
    Body(&'a Truth, Weather),
}

/// Is a model of a watcher.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Kind {
    /// Shows what it reads, piece by piece; doubles its waits after failures if told so.
    Careful {
        backs_off: bool,
        prints_changes: bool,
    },
    /// Gives up on a body that has one value it cannot read.
    Strict,
    KeepsOldOnFailure,
    KeepsTargetOnNull,
    ZeroForNull,
    NeverRecovers,
    Dies,
    StopsAsking,
    AlwaysUnknown,
}

struct Model {
    kind: Kind,
    shown: Option<Sighting>,
    next_poll: u64,
    failures: u32,
    last_target: Option<f64>,
    is_broken: bool,
}

impl Model {
    fn new(kind: Kind) -> Self {
        Self {
            kind,
            shown: None,
            next_poll: 0,
            failures: 0,
            last_target: None,
            is_broken: false,
        }
    }

    fn polls_at(&self, second: u64) -> bool {
        second >= self.next_poll && !(self.is_broken && self.kind == Kind::StopsAsking)
    }

    /// Takes what came at a second, and gives what is said.
    fn take(&mut self, second: u64, got: &Got<'_>) -> Option<Sighting> {
        let unknown = Sighting::new().phase(Claim::Unknown);
        self.next_poll = second + 1;
        let says = match got {
            Got::Body(truth, weather) => {
                self.failures = 0;
                self.read(truth, *weather)
            }
            Got::Nothing | Got::Wait(_) => {
                self.failures += 1;
                self.is_broken = true;
                match (self.kind, got) {
                    (
                        Kind::Careful {
                            backs_off: true, ..
                        },
                        Got::Wait(seconds),
                    ) => {
                        self.next_poll = second + 1 + seconds;
                    }
                    (
                        Kind::Careful {
                            backs_off: true, ..
                        },
                        _,
                    ) => {
                        self.next_poll = second + (1 << self.failures.min(3));
                    }
                    _ => {}
                }
                match self.kind {
                    Kind::KeepsOldOnFailure | Kind::StopsAsking => return None,
                    _ => unknown.clone(),
                }
            }
        };
        let says = match self.kind {
            Kind::NeverRecovers if self.is_broken => unknown,
            _ => says,
        };
        let is_new = self.shown.as_ref() != Some(&says);
        self.shown = Some(says.clone());
        match self.kind {
            Kind::Careful {
                prints_changes: true,
                ..
            } if !is_new => None,
            _ => Some(says),
        }
    }

    fn read(&mut self, truth: &Truth, weather: Weather) -> Sighting {
        let unknown = Sighting::new().phase(Claim::Unknown);
        let whole = of_truth(truth);
        let truly = truth.heaters["extruder"].target_celsius;
        match (weather, self.kind) {
            (Weather::NullBody, _) => unknown,
            (Weather::NullTarget | Weather::ExtraHeater, Kind::Strict) => unknown,
            (Weather::NullTarget, Kind::KeepsTargetOnNull) => match self.last_target {
                Some(target) => with_target(whole, target),
                None => without_target(whole),
            },
            (Weather::NullTarget, Kind::ZeroForNull) => with_target(whole, 0.0),
            (Weather::NullTarget, _) => without_target(whole),
            (Weather::Fahrenheit, _) => with_target(whole, truly * 1.8 + 32.0),
            _ => {
                self.last_target = Some(truly);
                match self.kind {
                    Kind::AlwaysUnknown if self.is_broken => unknown,
                    _ => whole,
                }
            }
        }
    }
}

fn of_truth(truth: &Truth) -> Sighting {
    let job = truth.job.as_ref();
    let mut sighting = Sighting::new()
        .phase(PhaseClaim::Known(truth.phase))
        .progress_percent(job.map(|job| job.progress_percent))
        .elapsed_seconds(job.map(|job| job.elapsed_seconds))
        .remaining_seconds(job.and_then(|job| job.remaining_seconds))
        .job_name(job.map(|job| job.name.clone()));
    for (name, heater) in &truth.heaters {
        sighting = sighting.heater(name, |claims| {
            claims
                .actual_celsius(heater.actual_celsius)
                .target_celsius(heater.target_celsius)
                .on(heater.on)
        });
    }
    sighting
}

fn with_target(sighting: Sighting, celsius: f64) -> Sighting {
    sighting.heater("extruder", |heater| {
        heater.target_celsius(celsius).on(celsius > 0.0)
    })
}

fn without_target(sighting: Sighting) -> Sighting {
    sighting.heater("extruder", |heater| {
        heater.target_celsius(Claim::Unknown).on(Claim::Unknown)
    })
}

/// Collects what happens in a life.
#[derive(Default)]
struct Log(Vec<Event>);

impl Log {
    fn note(&mut self, at_ms: u64, kind: EventKind) {
        let at = Duration::from_millis(at_ms);
        self.0.push(Event { at, kind });
    }

    /// Notes what a poll meets, and gives what the watcher gets.
    fn answer(&mut self, second: u64, weather: Weather) -> Got<'static> {
        let at_ms = second * 1000;
        let truth = &truths()[usize::try_from(second).unwrap().min(LONGEST)];
        let (status, length) = match weather {
            Weather::Refused | Weather::Away => return Got::Nothing,
            Weather::Busy(_) => (503, 40),
            _ => (200, 900),
        };
        self.note(
            at_ms,
            EventKind::Answer {
                exchange: second,
                status,
                headers: Vec::new(),
                body: bytes::Bytes::from(vec![b' '; length]),
                truth: Arc::clone(truth),
            },
        );
        if let Some(Trouble::Fault(fault)) = weather.trouble() {
            let connection = second;
            let exchange = Some(second);
            self.note(
                at_ms,
                EventKind::FaultHappened {
                    connection,
                    exchange,
                    fault,
                },
            );
        }
        match weather {
            Weather::Busy(seconds) => Got::Wait(seconds),
            // The watcher's own time-out is 2 s.
            Weather::Cut | Weather::Late(2000..) => Got::Nothing,
            weather => Got::Body(truth, weather),
        }
    }

    fn begin(&mut self, at_ms: u64, weather: Weather) {
        match weather.trouble() {
            Some(trouble) => self.note(at_ms, EventKind::TroubleBegan { trouble }),
            None if weather == Weather::Away => self.note(at_ms, EventKind::HostWent),
            None => {}
        }
    }

    fn end(&mut self, at_ms: u64, weather: Weather) {
        match weather.trouble() {
            Some(trouble) => self.note(at_ms, EventKind::TroubleEnded { trouble }),
            None if weather == Weather::Away => self.note(at_ms, EventKind::HostCame),
            None => {}
        }
    }

    /// Gives the events in their order, with a last moment.
    fn in_order(mut self, end_ms: u64) -> Vec<Event> {
        let last = EventKind::Line {
            on_stderr: false,
            text: String::new(),
        };
        self.note(end_ms, last);
        self.0.sort_by_key(|event| event.at);
        self.0
    }
}

/// Lets a watcher live through some weather, each for so many seconds.
pub(super) fn live(kind: Kind, weather: &[(Weather, u64)]) -> Vec<Event> {
    let mut log = Log::default();
    let mut model = Model::new(kind);
    let mut second = 0_u64;
    for (weather, lasts) in weather.iter().copied() {
        log.begin(second * 1000 + 500, weather);
        for _ in 0..lasts {
            second += 1;
            if !model.polls_at(second) {
                continue;
            }
            let got = log.answer(second, weather);
            if kind == Kind::Dies && matches!(got, Got::Nothing) {
                let status = "exit status: 1".to_owned();
                log.note(second * 1000 + 5, EventKind::Exited { status });
                return log.in_order(second * 1000 + 5);
            }
            let late_ms = match weather {
                Weather::Late(millis) => millis.min(2000),
                _ => 0,
            };
            if let Some(says) = model.take(second + late_ms.div_ceil(1000), &got) {
                log.note(second * 1000 + 10 + late_ms, EventKind::Sighting(says));
            }
        }
        log.end(second * 1000 + 500, weather);
    }
    log.in_order(second * 1000 + 900)
}
