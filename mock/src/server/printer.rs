//! The printer as the wire sees it: the one state behind the one lock.

use std::collections::HashMap;
use std::sync::Arc;

use http::StatusCode;

use super::limits::KEPT_BODIES;
use crate::dialect::{Answer, Dialect, Matched, Problem, Rendered};
use crate::drift::DriftBoard;
use crate::sim::{Command, Simulation, Tick, Truth, VirtualTime};

/// Is the simulation with the bodies made of its present truth.
#[derive(Debug)]
pub(super) struct Printer {
    simulation: Simulation,
    dialect: Arc<Dialect>,
    drifts: DriftBoard,
    shown: Shown,
}

/// Is what was shown last. The printer changes only at ticks and by commands, so until the next of
/// these everybody is shown the same bytes.
#[derive(Debug)]
struct Shown {
    /// The tick of the clock, the commands done, the changes of the drift board.
    key: (Tick, u64, u64),
    truth: Arc<Truth>,
    answers: HashMap<Matched, Answer>,
}

impl Printer {
    pub(super) fn new(
        mut simulation: Simulation,
        dialect: Arc<Dialect>,
        drifts: DriftBoard,
    ) -> Self {
        let shown = Shown {
            key: (Tick::default(), simulation.revision(), drifts.generation()),
            truth: Arc::new(simulation.truth_at(VirtualTime::ZERO)),
            answers: HashMap::new(),
        };
        Self {
            simulation,
            dialect,
            drifts,
            shown,
        }
    }

    /// Gives the truth at a moment.
    pub(super) fn truth(&mut self, at: VirtualTime) -> Arc<Truth> {
        let (tick, revision, generation) = self.shown.key;
        let key = (
            tick.max(at.tick()),
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

    /// Gives a route's answer at a moment, drifts applied.
    pub(super) fn answer(&mut self, at: VirtualTime, matched: &Matched) -> (Answer, Arc<Truth>) {
        let truth = self.truth(at);
        if let Some(answer) = self.shown.answers.get(matched) {
            return (answer.clone(), truth);
        }
        let answer = match self.dialect.render(matched, &truth) {
            Ok(Rendered::Body(mut body)) => {
                self.drifts.apply(&mut body);
                self.dialect.answer(matched.route, &body)
            }
            Ok(Rendered::Missing(problem)) => self.dialect.problem(&problem),
            Err(error) => self.dialect.problem(&Problem::fault_of_dialect(&error)),
        };
        // The names in a path of something missing are the client's own and without end.
        if answer.status != StatusCode::NOT_FOUND && self.shown.answers.len() < KEPT_BODIES {
            self.shown.answers.insert(matched.clone(), answer.clone());
        }
        (answer, truth)
    }

    /// Carries out a command and gives the route's answer after it.
    pub(super) fn command(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        command: Command,
    ) -> (Answer, Arc<Truth>) {
        let truth = self.truth(at);
        let missing = self.dialect.missing(matched, &truth);
        let problem = match missing {
            Ok(None) => match self.simulation.command(at, command) {
                Ok(()) => return self.answer(at, matched),
                Err(refused) => Problem::from(&refused),
            },
            Ok(Some(problem)) => problem,
            Err(error) => Problem::fault_of_dialect(&error),
        };
        (self.dialect.problem(&problem), truth)
    }
}
