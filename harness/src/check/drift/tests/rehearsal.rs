//! Plans carried out without a host, a process or a clock: a watcher is a function of the bytes it is
//! given, once a second.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use coldbed_mock::drift::{DriftBoard, DriftGuard};
use coldbed_mock::sim::{Truth, VirtualTime};

use super::super::{Context, Step, scene};
use crate::check::{Awaited, Plan};
use crate::event::{Event, EventKind};
use crate::oracle::{Trace, Verdict};
use crate::watcher::Sighting;

/// Is a watcher: what it prints for a body; nothing if that ends it.
pub(super) type Reader<'r> = dyn FnMut(&[u8]) -> Option<String> + 'r;

struct Desk<'r> {
    context: &'r Context,
    at: VirtualTime,
    board: DriftBoard,
    raised: Vec<DriftGuard>,
    now: Duration,
    events: Vec<Event>,
    reader: &'r mut Reader<'r>,
    is_gone: bool,
}

/// Gives a truth of the scenario; the same few moments are asked for over and over.
fn truth_at(at: VirtualTime) -> Arc<Truth> {
    static KNOWN: Mutex<BTreeMap<VirtualTime, Arc<Truth>>> = Mutex::new(BTreeMap::new());
    let mut known = KNOWN.lock().unwrap();
    let truth = known
        .entry(at)
        .or_insert_with(|| Arc::new(scene::truth_at(at)));
    Arc::clone(truth)
}

/// Lets a reader live through a plan and judges it.
pub(super) fn judged<'r>(
    context: &'r Context,
    plan: &Plan,
    reader: &'r mut Reader<'r>,
    oracle: impl Fn(&Trace<'_>, &Context) -> Verdict,
) -> Verdict {
    let mut desk = Desk {
        context,
        at: VirtualTime::ZERO,
        board: DriftBoard::default(),
        raised: Vec::new(),
        now: Duration::ZERO,
        events: Vec::new(),
        reader,
        is_gone: false,
    };
    for step in &plan.steps {
        desk.carry_out(step);
    }
    oracle(&Trace::new(&desk.events, context.timing), context)
}

impl Desk<'_> {
    fn note(&mut self, kind: EventKind) {
        self.events.push(Event { at: self.now, kind });
    }

    fn carry_out(&mut self, step: &Step) {
        match step {
            Step::Trial { label, steps } => {
                self.is_gone = false;
                let label = label.clone();
                self.note(EventKind::TrialBegan { label });
                for step in steps {
                    if !self.is_gone {
                        self.carry_out(step);
                    }
                }
                self.raised.clear();
                self.note(EventKind::TrialEnded);
            }
            Step::Visit { from, answers, .. } => {
                self.at = from.unwrap_or(self.at);
                // Until what was before is no excuse any more, and two polls on.
                let settled = self.context.timing.freshness() + 2 * self.context.timing.interval;
                let polls = settled.as_secs_f64().ceil();
                for _ in 0..(*answers).max(polls as usize) {
                    self.poll();
                }
            }
            Step::Jump { to, .. } => self.at = to.unwrap_or(self.at),
            Step::RaiseDrift(drift) => {
                let drift = drift.clone();
                self.note(EventKind::DriftRaised {
                    drift: drift.explain(),
                });
                self.raised.push(self.board.raise(drift));
            }
            Step::ClearDrifts => {
                self.raised.clear();
                self.note(EventKind::DriftCleared);
            }
            Step::Await {
                what: Awaited::Answers(count),
                ..
            } => (0..*count).for_each(|_| self.poll()),
            Step::Await { .. } => {}
            other => panic!("no plan of the area has {other:?}"),
        }
    }

    fn poll(&mut self) {
        if self.is_gone {
            return;
        }
        self.now += Duration::from_millis(990);
        let truth = truth_at(self.at);
        let dialect = self.context.dialect.first();
        let asked = |path: &str| self.context.asked.contains(path);
        let mut body = dialect.bodies_at(&truth, asked).swap_remove(0);
        self.board.apply(&mut body);
        let bytes = match self.board.spell(&body) {
            Some(spelled) => spelled,
            None => body.to_string().into_bytes(),
        };
        self.note(EventKind::Answer {
            exchange: 0,
            status: 200,
            headers: Vec::new(),
            body: bytes.clone().into(),
            truth,
        });
        self.now += Duration::from_millis(10);
        let kind = match (self.reader)(&bytes) {
            Some(line) => match Sighting::from_line(&line) {
                Some(sighting) => EventKind::Sighting(sighting),
                None => EventKind::Line {
                    on_stderr: false,
                    text: line,
                },
            },
            None => {
                self.is_gone = true;
                EventKind::Exited {
                    status: "exit status: 1".to_owned(),
                }
            }
        };
        self.note(kind);
    }
}
