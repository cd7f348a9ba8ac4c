//! The drifts in force.

use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde_json::Value;

use super::pen::Pen;
use super::{Drift, FormChange};

/// Says what happened on a board.
#[derive(Debug, Clone, PartialEq)]
pub enum DriftChange {
    /// A drift came into force.
    Raised(Arc<Drift>),
    /// A drift was taken back.
    Cleared(Arc<Drift>),
}

type Hook = Box<dyn Fn(DriftChange) + Send + Sync>;

/// Holds the drifts in force; a clone is the same board.
#[derive(Clone, Default)]
pub struct DriftBoard(Arc<Inner>);

#[derive(Default)]
struct Inner {
    state: Mutex<State>,
    hook: Option<Hook>,
}

#[derive(Default)]
struct State {
    generation: u64,
    raised: Vec<(u64, Arc<Drift>)>,
}

impl DriftBoard {
    /// Makes an empty board that tells somebody of every change, before it takes effect.
    ///
    /// The hook must not raise or clear drifts.
    pub fn with_hook(hook: impl Fn(DriftChange) + Send + Sync + 'static) -> Self {
        Self(Arc::new(Inner {
            state: Mutex::default(),
            hook: Some(Box::new(hook)),
        }))
    }

    /// Brings a drift into force until the guard is dropped. Later ones work on what earlier ones
    /// left.
    #[must_use = "the drift is taken back when the guard is dropped"]
    pub fn raise(&self, drift: Drift) -> DriftGuard {
        let drift = Arc::new(drift);
        let mut state = self.state();
        self.tell(DriftChange::Raised(Arc::clone(&drift)));
        state.generation += 1;
        let id = state.generation;
        state.raised.push((id, drift));
        DriftGuard {
            board: self.clone(),
            id,
        }
    }

    /// Counts the changes of the board: bodies of the same truth may differ only if this does.
    pub fn generation(&self) -> u64 {
        self.state().generation
    }

    /// Gives the drifts in force, first raised first, with the generation they belong to.
    pub fn raised(&self) -> (u64, Vec<Arc<Drift>>) {
        let state = self.state();
        let drifts = state.raised.iter().map(|(_, drift)| Arc::clone(drift));
        (state.generation, drifts.collect())
    }

    /// Applies every drift in force to a body's shape and gives the names of those that fitted.
    pub fn apply(&self, body: &mut Value) -> Vec<String> {
        let (_, drifts) = self.raised();
        drifts
            .iter()
            .filter(|drift| drift.apply(body).is_ok())
            .map(|drift| drift.name.clone())
            .collect()
    }

    /// Writes a body as the drifts in force spell it; `None` when none of them spells this body,
    /// which is then written as ever.
    ///
    /// The shape is to be changed before: [`DriftBoard::apply`].
    pub fn spell(&self, body: &Value) -> Option<Vec<u8>> {
        let (_, drifts) = self.raised();
        let mut pen = Pen::new(body);
        let mut fitted = false;
        for drift in drifts {
            fitted |= drift.instruct(&mut pen).is_ok();
        }
        fitted.then(|| pen.write())
    }

    /// Says how the drifts in force change the way answers are carried: all of them, with or without
    /// a body, whatever it says.
    pub fn form(&self) -> FormChange {
        let (_, drifts) = self.raised();
        let forms = drifts.iter().filter_map(|drift| drift.form());
        forms.fold(FormChange::default(), FormChange::and)
    }

    fn clear(&self, id: u64) {
        let mut state = self.state();
        let Some(index) = state.raised.iter().position(|(known, _)| *known == id) else {
            return;
        };
        self.tell(DriftChange::Cleared(Arc::clone(&state.raised[index].1)));
        state.generation += 1;
        state.raised.remove(index);
    }

    fn tell(&self, change: DriftChange) {
        if let Some(hook) = &self.0.hook {
            hook(change);
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // Nothing here leaves the state half changed, also when a hook panics.
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl fmt::Debug for DriftBoard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (generation, raised) = self.raised();
        f.debug_struct("DriftBoard")
            .field("generation", &generation)
            .field("raised", &raised)
            .finish()
    }
}

/// Keeps a drift in force; dropping it takes the drift back.
#[derive(Debug)]
#[must_use = "the drift is taken back when the guard is dropped"]
pub struct DriftGuard {
    board: DriftBoard,
    id: u64,
}

impl Drop for DriftGuard {
    fn drop(&mut self) {
        self.board.clear(self.id);
    }
}
