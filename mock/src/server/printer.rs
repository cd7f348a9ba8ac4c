//! The printer as the wire sees it: the one state behind the one lock.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use http::StatusCode;
use http::header::{HeaderValue, SET_COOKIE};

use super::control::{ChangeLog, Planned, PlannedChange};
use super::limits::{KEPT_BODIES, KEPT_BODY_BYTES};
use super::old_truth::OldTruths;
use super::orders::Orders;
use super::push::Feeds;
use super::timeline::OnTheWire;
use crate::control::Change;
use crate::dialect::{
    Access, Answer, AuthScheme, Decided, Dialect, DialectFile, LogIns, Matched, Order, Problem,
    RenderError, Rendered, Request, ShownKey,
};
use crate::drift::DriftBoard;
use crate::fault::{Fault, FaultBoard};
use crate::scenario::{Action, Scenario};
use crate::sim::{Command, Phase, Simulation, Tick, Truth, VirtualTime};

/// Is the simulation with the bodies made of its present truth.
#[derive(Debug)]
pub(super) struct Printer {
    simulation: Simulation,
    dialects: Arc<DialectFile>,
    drifts: DriftBoard,
    on_the_wire: OnTheWire,
    shown: Shown,
    orders: Orders,
    log_ins: LogIns,
    old_truths: OldTruths,
    /// Where what changes the printer is taken down, if anywhere.
    log: Option<ChangeLog>,
    planned: Planned,
    pub(super) feeds: Feeds,
}

/// Is what was shown last. The printer changes only at ticks and by commands, so until the next of
/// these everybody is shown the same bytes.
#[derive(Debug)]
struct Shown {
    /// The tick of the clock, the commands done, the changes of the drift board.
    key: (Tick, u64, u64),
    truth: Arc<Truth>,
    answers: HashMap<ShownKey, Answer>,
}

impl Shown {
    fn has_room(&self) -> bool {
        let bytes = || self.answers.values().map(|answer| answer.body.len()).sum();
        self.answers.len() < KEPT_BODIES && KEPT_BODY_BYTES >= bytes()
    }
}

impl Printer {
    pub(super) fn new(
        mut simulation: Simulation,
        dialects: Arc<DialectFile>,
        faults: FaultBoard,
        drifts: DriftBoard,
    ) -> Self {
        let shown = Shown {
            key: (Tick::default(), simulation.revision(), drifts.generation()),
            truth: Arc::new(simulation.truth_at(VirtualTime::ZERO)),
            answers: HashMap::new(),
        };
        Self {
            simulation,
            dialects,
            on_the_wire: OnTheWire::new(faults, drifts.clone()),
            drifts,
            shown,
            orders: Orders::default(),
            log_ins: LogIns::default(),
            old_truths: OldTruths::default(),
            log: None,
            planned: Planned::default(),
            feeds: Feeds::default(),
        }
    }

    /// Takes down from now on what changes the printer, and has changes of another log made again.
    pub(super) fn keep_log(&mut self, log: ChangeLog, planned: Planned) {
        self.log = Some(log);
        self.planned = planned;
    }

    pub(super) fn scenario(&self) -> &Arc<Scenario> {
        self.simulation.scenario()
    }

    /// Lets something happen to the printer at a moment, and gives when it did and the phase after
    /// it. The caller takes it down.
    pub(super) fn issue(&mut self, at: VirtualTime, action: &Action) -> (VirtualTime, Phase) {
        self.carry_out_until(at);
        self.simulation.issue(at, action);
        let at = at.max(self.simulation.reached());
        (at, self.simulation.phase())
    }

    /// Does what is due, each at its own moment.
    fn carry_out_until(&mut self, now: VirtualTime) {
        loop {
            let next = [self.planned.next_at(), self.orders.next_due()];
            let Some(due) = next.into_iter().flatten().min().filter(|due| *due <= now) else {
                return;
            };
            while let Some((at, change)) = self.planned.pop(due) {
                self.replay(at, change);
            }
            let (log, simulation) = (self.log.as_ref(), &mut self.simulation);
            self.orders.carry_out_until(due, simulation, |at, command| {
                note(log, at, command);
            });
        }
    }

    fn replay(&mut self, at: VirtualTime, change: PlannedChange) {
        match change {
            PlannedChange::Event { action, keys } => {
                self.simulation.issue(at, &action);
                if let Some(log) = &self.log {
                    log.append(at.max(self.simulation.reached()), Change::Event(keys));
                }
            }
            PlannedChange::Command(command) => {
                // Refused is what it can be if others have changed the printer too.
                if self.simulation.command(at, command.clone()).is_ok() {
                    note(
                        self.log.as_ref(),
                        at.max(self.simulation.reached()),
                        command,
                    );
                }
            }
        }
    }

    /// Gives the truth at a moment. The boards of faults and drifts have followed the timeline up to
    /// it then.
    pub(super) fn truth(&mut self, at: VirtualTime) -> Arc<Truth> {
        self.carry_out_until(at);
        let (tick, revision, generation) = self.shown.key;
        let reached = tick.max(at.tick());
        self.simulation.advance_to(reached);
        self.on_the_wire.follow(&self.simulation);
        let key = (
            reached,
            self.simulation.revision(),
            self.drifts.generation(),
        );
        if key != (tick, revision, generation) {
            if (key.0, key.1) != (tick, revision) {
                self.shown.truth = Arc::new(self.simulation.truth_at(at));
            }
            self.shown.key = key;
            self.shown.answers.clear();
        }
        Arc::clone(&self.shown.truth)
    }

    /// Tells whether the timeline can do something to the wire although nobody asks.
    pub(super) fn acts_on_wire(&self) -> bool {
        self.simulation.acts_on_wire() || self.planned.next_at().is_some()
    }

    /// Gives a route's answer at a moment, drifts applied.
    pub(super) fn answer(&mut self, at: VirtualTime, matched: &Matched) -> (Answer, Arc<Truth>) {
        let truth = self.truth(at);
        let key = matched.shown_key();
        if let Some(answer) = key.as_ref().and_then(|key| self.shown.answers.get(key)) {
            return (answer.clone(), truth);
        }
        let dialect = Arc::clone(self.dialects.of(matched));
        if self.dialects.spoken(&truth.printer).place() != matched.version {
            // A stream that was begun before the host was updated has come to its end.
            let detail = "the host has another version now";
            let answer = dialect.problem(&Problem::new(StatusCode::GONE, detail));
            return (answer, truth);
        }
        let answer = self.finish(&dialect, matched, &truth, dialect.render(matched, &truth));
        // The names in a path of something missing are the client's own and without end.
        if let Some(key) = key
            && answer.status != StatusCode::NOT_FOUND
            && self.shown.has_room()
        {
            self.shown.answers.insert(key, answer.clone());
        }
        (answer, truth)
    }

    /// Gives the answer that a fault lets a route give from an old truth, numbered as on the board.
    pub(super) fn old_answer(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        (id, fault): (u64, &Fault),
    ) -> (Answer, Arc<Truth>) {
        let now = self.truth(at);
        let truth = self.old_truths.instead(id, fault, &now);
        if Arc::ptr_eq(&truth, &now) {
            return self.answer(at, matched);
        }
        let dialect = Arc::clone(self.dialects.of(matched));
        let answer = self.finish(&dialect, matched, &truth, dialect.render(matched, &truth));
        (answer, truth)
    }

    fn finish(
        &self,
        dialect: &Dialect,
        matched: &Matched,
        truth: &Truth,
        rendered: Result<Rendered, RenderError>,
    ) -> Answer {
        rendered
            .and_then(|mut rendered| {
                if let Rendered::Body(body) = &mut rendered {
                    self.drifts.apply(body);
                    if let Some(spelled) = self.drifts.spell(body) {
                        // The tag is made of the bytes that are sent, as for any others.
                        rendered = Rendered::Bytes(spelled.into());
                    }
                }
                dialect.finish(matched, truth, rendered)
            })
            .unwrap_or_else(|error| dialect.problem(&Problem::fault_of_dialect(&error)))
    }

    /// Carries out a command, or sees to it that it is carried out when its delay is over, and
    /// gives the route's answer after it.
    pub(super) fn command(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        order: Order,
    ) -> (Answer, Arc<Truth>) {
        let truth = self.truth(at);
        if let Some(answer) = self.orders.answer_given(matched, &order) {
            return (answer, truth);
        }
        let name = order.idempotency_key.clone();
        let (answer, truth) = self.decide(at, matched, order, truth);
        if let Some(name) = name {
            self.orders.remember(matched, name, answer.clone());
        }
        (answer, truth)
    }

    fn decide(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        order: Order,
        truth: Arc<Truth>,
    ) -> (Answer, Arc<Truth>) {
        let dialect = Arc::clone(self.dialects.of(matched));
        let faulty = |error: &RenderError| dialect.problem(&Problem::fault_of_dialect(error));
        match dialect.decide(matched, &order, &truth) {
            Ok(None) => {}
            Ok(Some(Decided::DoneAlready)) => return self.answer(at, matched),
            Ok(Some(Decided::Answer(answer))) => return (answer, truth),
            Err(error) => return (faulty(&error), truth),
        }
        let done = if order.effect_after == Duration::ZERO {
            let done = self.simulation.command(at, order.command.clone());
            done.map(|()| {
                note(
                    self.log.as_ref(),
                    at.max(self.simulation.reached()),
                    order.command,
                );
            })
        } else {
            // Whether it would be followed now is what the client is told.
            let refused = self.simulation.clone().command(at, order.command.clone());
            refused.map(|()| self.orders.put_off(at, order.effect_after, order.command))
        };
        match done {
            Ok(()) => self.answer(at, matched),
            Err(refused) => {
                let answer = dialect.refused(matched, &refused, &truth);
                (answer.unwrap_or_else(|error| faulty(&error)), truth)
            }
        }
    }

    /// Logs a client in whose key was looked at, and gives the route's answer.
    pub(super) fn log_in(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        key: &str,
    ) -> (Answer, Arc<Truth>) {
        let truth = self.truth(at);
        let dialect = Arc::clone(self.dialects.of(matched));
        let token = self.log_ins.begin(key, at);
        let rendered = dialect.render_log_in(matched, &truth, &token);
        let mut answer = self.finish(&dialect, matched, &truth, rendered);
        if let AuthScheme::SessionCookie {
            cookie, attributes, ..
        } = dialect.auth()
            && answer.status.is_success()
        {
            let separator = if attributes.is_empty() { "" } else { "; " };
            let value = format!("{cookie}={token}{separator}{attributes}");
            let value = HeaderValue::try_from(value).expect("name and attributes were checked");
            answer.headers.append(SET_COOKIE, value);
        }
        (answer, truth)
    }

    /// Logs out whoever asks for it, and gives the route's answer.
    pub(super) fn log_out(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        request: &Request<'_>,
    ) -> (Answer, Arc<Truth>) {
        let dialect = Arc::clone(self.dialects.of(matched));
        if let Some(token) = dialect.auth().token(request) {
            self.log_ins.end(token);
        }
        let (mut answer, truth) = self.answer(at, matched);
        if let AuthScheme::SessionCookie { cookie, .. } = dialect.auth() {
            let value = format!("{cookie}=; Path=/; Max-Age=0");
            let value = HeaderValue::try_from(value).expect("the name was checked");
            answer.headers.append(SET_COOKIE, value);
        }
        (answer, truth)
    }

    /// Gives what the host knows of a client besides its request.
    pub(super) fn access<'k>(
        &mut self,
        dialect: &Dialect,
        request: &Request<'_>,
        key: Option<&'k str>,
        truth: &Truth,
    ) -> Access<'k> {
        let auth = dialect.auth();
        let logged_in = auth
            .token(request)
            .is_some_and(|token| self.log_ins.admit(token, auth.idle_s(), truth));
        Access {
            key,
            key_is_good: truth.printer.key_is_good,
            logged_in,
        }
    }
}

/// Takes down what the printer did for a client.
fn note(log: Option<&ChangeLog>, at: VirtualTime, command: Command) {
    if let Some(log) = log {
        log.append(at, Change::Command(command));
    }
}

#[cfg(test)]
mod tests {
    use http::{HeaderMap, Method};

    use super::*;
    use crate::dialect::Routed;
    use crate::drift::{Drift, Pad};
    use crate::scenario::Scenario;

    #[test]
    fn large_bodies_are_kept_until_they_are_too_much() {
        let scenario = Scenario::builtin("printing").unwrap().unwrap();
        let dialects = Arc::new(DialectFile::builtin("plain").unwrap());
        let drifts = DriftBoard::default();
        let member = "extra".to_owned();
        let bytes = u32::try_from(KEPT_BODY_BYTES / 2).unwrap();
        let _guard = drifts.raise(Drift::of("", Pad { member, bytes }));
        let simulation = Simulation::new(Arc::new(scenario), 1);
        let mut printer = Printer::new(
            simulation,
            Arc::clone(&dialects),
            FaultBoard::default(),
            drifts,
        );
        let at = VirtualTime::new(Duration::from_secs(7200));
        for path in ["/printer", "/job", "/heaters/extruder", "/heaters/platform"] {
            let request = Request {
                method: &Method::GET,
                path,
                query: None,
                headers: &HeaderMap::new(),
                body: b"",
            };
            let Routed::Body(matched) = dialects.first().route(&request, &Access::OPEN) else {
                panic!("{path} is a body");
            };
            let (answer, _) = printer.answer(at, &matched);
            assert!(answer.body.len() > KEPT_BODY_BYTES / 2, "{path}");
        }
        assert_eq!(printer.shown.answers.len(), 2);
    }
}
