//! One drift at one place: what is done, and what it is judged by.

use std::time::Duration;

use coldbed_mock::dialect::Quantity;
use coldbed_mock::drift::{Change, Drift, DriftClass};
use coldbed_mock::sim::Phase;

use super::scene::{self, Scene};
use super::spots::{self, Spot};
use super::{Context, NotPlanned, Plan, Step};
use crate::check::Awaited;
use crate::oracle::{Trace, Tried, Verdict, verify_drifts};

/// Is a drift to be tried, and in what scene.
#[derive(Debug, Clone)]
pub(super) struct Trial {
    /// What it is judged by.
    pub(super) tried: Tried,
    /// What the printer does meanwhile.
    pub(super) scene: Scene,
}

/// Gives the trials of a check.
pub(super) type Trials = fn(&Context) -> Vec<Trial>;

/// So many trials, at once a second, take a minute (own choice): more are sampled by the seed.
const MOST: usize = 7;

/// After a body that cannot be read at all a careful watcher backs off, so that each trial takes longer:
/// so many take a minute.
const MOST_UNREADABLE: usize = 5;

/// So many brief ones take as long.
const MOST_BRIEF: usize = 16;

/// How much virtual time passes in one poll: enough that numbers move, too little to leave the scene.
const PER_POLL: Duration = Duration::from_millis(500);

/// The trial that is made when all others are over.
const AFTERWARDS: &str = "after all of them";

impl Trial {
    /// Is a change at a spot while the printer prints.
    pub(super) fn of(spot: &Spot, change: impl Into<Change>) -> Self {
        let change = change.into();
        let drifts: Vec<Drift> = spot
            .pointers
            .iter()
            .map(|pointer| Drift::of(pointer, change.clone()))
            .collect();
        Self::with(format!("{} at {}", change.name(), words(spot)), drifts)
    }

    /// Is several drifts at once while the printer prints.
    pub(super) fn with(label: String, drifts: Vec<Drift>) -> Self {
        // Where nothing drifts, everything has to be right.
        let class = drifts
            .first()
            .map_or(DriftClass::Compatible, |drift| drift.class);
        Self {
            tried: Tried {
                label,
                drifts,
                class,
                spared: Vec::new(),
                also: Vec::new(),
                is_brief: false,
            },
            scene: Scene::Printing,
        }
    }

    /// Says of the label what was done there.
    pub(super) fn called(mut self, name: &str) -> Self {
        if let Some((_, place)) = self.tried.label.split_once(" at ") {
            self.tried.label = format!("{name} at {place}");
        }
        self
    }

    /// Is tried while the printer heats.
    pub(super) fn while_heating(mut self) -> Self {
        self.scene = Scene::Heating;
        self
    }

    /// Is owed other than the change by itself suggests.
    pub(super) fn owed(mut self, class: DriftClass) -> Self {
        self.tried.class = class;
        self
    }

    /// Lets a phase pass which the changed body may well be read as.
    pub(super) fn or_read_as(mut self, phases: &[Phase]) -> Self {
        self.tried.also = phases.to_vec();
        self
    }

    /// Does not judge what stands at the spot: the host does say it.
    pub(super) fn sparing(mut self, spot: &Spot) -> Self {
        let spared = spot.shows.clone();
        if let Some(Quantity::Target(heater)) = &spared {
            self.tried.spared.push(Quantity::On(heater.clone()));
        }
        self.tried.spared.extend(spared);
        self
    }

    /// Lasts for one answer only: what is judged is that the watcher survives.
    pub(super) fn brief(mut self) -> Self {
        self.tried.is_brief = true;
        self
    }

    fn step(&self, context: &Context, job: usize) -> Step {
        let timing = context.timing;
        let hold = timing.freshness() + 3 * timing.interval;
        let patience = timing.recovery_within(hold);
        let raise = self.tried.drifts.iter().cloned().map(Step::RaiseDrift);
        let answers = |count| Step::Await {
            what: Awaited::Answers(count),
            within: patience,
        };
        let knowing = Step::Await {
            what: Awaited::Knowing,
            within: timing.unknown_within(),
        };
        let rest = if self.tried.is_brief {
            vec![answers(1), Step::ClearDrifts, answers(1), knowing]
        } else {
            let visit = Step::Visit {
                from: Some(scene::moment(self.scene, job)),
                per_poll: PER_POLL,
                // So many are needed to judge that nothing turned unknown, also of one that backs off.
                answers: 3,
            };
            let away = Step::Jump {
                to: Some(scene::finished(job)),
                per_poll: PER_POLL,
            };
            vec![visit, Step::ClearDrifts, away, answers(2), knowing]
        };
        Step::Trial {
            label: self.tried.label.clone(),
            steps: raise.chain(rest).collect(),
        }
    }
}

/// Names a spot by its pointers.
pub(super) fn words(spot: &Spot) -> String {
    let words = |pointer: &String| match pointer.as_str() {
        "" => "the whole body".to_owned(),
        pointer => pointer.to_owned(),
    };
    let all: Vec<String> = spot.pointers.iter().map(words).collect();
    all.join(" and ")
}

/// Plans trials: a clean look at the finished job before, then one after the other, each of them
/// with the next job, and a clean look at the end.
pub(super) fn plan(context: &Context, trials: Trials) -> Result<Plan, NotPlanned> {
    let bodies = spots::bodies(context);
    let fits = |trial: &Trial| {
        let mut drifts = trial.tried.drifts.iter();
        drifts.any(|drift| bodies.iter().any(|body| drift.fits(body).is_ok()))
    };
    let mut trials = trials(context);
    // An element of a list has no name, and what is no object no members.
    trials.retain(|trial| bodies.is_empty() || fits(trial));
    let trials = sampled(context, trials);
    let Some(first) = trials.first() else {
        return Err(NotPlanned(
            "no JSON body that the watcher asks for has a place for it".to_owned(),
        ));
    };
    let look = |from| Step::Visit {
        from: Some(from),
        per_poll: PER_POLL,
        answers: 2,
    };
    let before = match first.tried.is_brief {
        true => scene::moment(first.scene, 0),
        false => scene::finished(0),
    };
    let mut steps = vec![look(before)];
    steps.extend(
        (1..)
            .zip(&trials)
            .map(|(job, trial)| trial.step(context, job)),
    );
    steps.push(Step::Trial {
        label: AFTERWARDS.to_owned(),
        steps: vec![look(scene::moment(Scene::Printing, trials.len() + 1))],
    });
    Ok(Plan::of(steps))
}

/// Judges them.
pub(super) fn judge(trace: &Trace<'_>, context: &Context, trials: Trials) -> Verdict {
    let mut tried: Vec<Tried> = trials(context)
        .into_iter()
        .map(|trial| trial.tried)
        .collect();
    tried.push(Trial::with(AFTERWARDS.to_owned(), Vec::new()).tried);
    verify_drifts(trace, &tried)
}

/// Leaves out as many as take too long; which is decided by the seed, by way of the key.
fn sampled(context: &Context, trials: Vec<Trial>) -> Vec<Trial> {
    let is_brief = trials.iter().all(|trial| trial.tried.is_brief);
    // A member twice is read by most, one way or the other.
    let is_read = |drift: &Drift| drift.change.name() == "duplicate-member";
    let is_unreadable = trials.iter().all(|trial| {
        let tried = &trial.tried;
        let is_whole = tried.drifts.iter().all(|drift| drift.pointer.is_empty());
        (tried.class == DriftClass::Hostile || is_whole) && !tried.drifts.iter().any(is_read)
    });
    let most = match (is_brief, is_unreadable) {
        (true, _) => MOST_BRIEF,
        (false, true) => MOST_UNREADABLE,
        (false, false) => MOST,
    };
    let count = trials.len();
    if count <= most {
        return trials;
    }
    let seed = context.key.bytes().fold(0_usize, |sum, byte| {
        sum.wrapping_mul(31).wrapping_add(byte.into())
    });
    // Evenly spread, so that every part of the list is tried; begun where the seed says.
    let chosen: Vec<usize> = (0..most)
        .map(|index| (seed % count + index * count / most) % count)
        .collect();
    trials
        .into_iter()
        .enumerate()
        .filter(|(index, _)| chosen.contains(index))
        .map(|(_, trial)| trial)
        .collect()
}
