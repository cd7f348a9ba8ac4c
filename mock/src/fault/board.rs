//! The faults in force.

use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::watch;

use super::{Fault, Layer};

/// Says what happened on a board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FaultChange {
    /// A fault came into force.
    Raised(Fault),
    /// A fault was taken back.
    Cleared(Fault),
}

type Hook = Box<dyn Fn(FaultChange) + Send + Sync>;

/// Holds the faults in force; a clone is the same board.
#[derive(Clone)]
pub struct FaultBoard(Arc<Inner>);

struct Inner {
    raised: Mutex<Vec<(u64, Fault)>>,
    hook: Option<Hook>,
    /// Counts the changes of the board.
    generation: watch::Sender<u64>,
    /// The generation that the listener has carried out; `None` while there is no listener.
    carried_out: watch::Sender<Option<u64>>,
}

impl Default for FaultBoard {
    fn default() -> Self {
        Self::new(None)
    }
}

impl FaultBoard {
    /// Makes an empty board that tells somebody of every change, before it takes effect.
    ///
    /// The hook must not raise or clear faults.
    pub fn with_hook(hook: impl Fn(FaultChange) + Send + Sync + 'static) -> Self {
        Self::new(Some(Box::new(hook)))
    }

    fn new(hook: Option<Hook>) -> Self {
        Self(Arc::new(Inner {
            raised: Mutex::default(),
            hook,
            generation: watch::Sender::new(0),
            carried_out: watch::Sender::new(None),
        }))
    }

    /// Brings a fault into force until the guard is dropped.
    ///
    /// A fault of the bytes or of the exchange is in force when this returns. [`Fault::Refuse`] is
    /// once [`FaultBoard::settled`] has come back.
    #[must_use = "the fault is taken back when the guard is dropped"]
    pub fn raise(&self, fault: Fault) -> FaultGuard {
        let mut raised = self.raised();
        self.tell(FaultChange::Raised(fault.clone()));
        let id = self.count();
        raised.push((id, fault));
        FaultGuard {
            board: self.clone(),
            id,
        }
    }

    /// Waits until every change made so far is carried out: the listener really closed, or open
    /// again. Comes back at once when no host serves this board.
    pub async fn settled(&self) {
        let wanted = *self.0.generation.borrow();
        let mut carried_out = self.0.carried_out.subscribe();
        // The sender lives as long as the board, so this cannot fail.
        let _ = carried_out
            .wait_for(|done| done.is_none_or(|done| done >= wanted))
            .await;
    }

    /// Tells whether nothing should listen.
    pub fn refuses(&self) -> bool {
        self.first(Layer::Listener).is_some()
    }

    /// Gives the fault that decides about the bytes of answers.
    pub fn of_bytes(&self) -> Option<Fault> {
        self.first(Layer::Bytes)
    }

    /// Gives the fault that decides about exchanges.
    pub fn of_exchange(&self) -> Option<Fault> {
        self.first(Layer::Exchange)
    }

    /// Tells of changes; the number counts them.
    pub(crate) fn changes(&self) -> watch::Receiver<u64> {
        self.0.generation.subscribe()
    }

    /// Notes what the listener has carried out; `None` when it has ended.
    pub(crate) fn carried_out(&self, generation: Option<u64>) {
        self.0.carried_out.send_replace(generation);
    }

    fn first(&self, layer: Layer) -> Option<Fault> {
        self.raised()
            .iter()
            .map(|(_, fault)| fault)
            .find(|fault| fault.layer() == layer)
            .cloned()
    }

    fn clear(&self, id: u64) {
        let mut raised = self.raised();
        let Some(index) = raised.iter().position(|(known, _)| *known == id) else {
            return;
        };
        self.tell(FaultChange::Cleared(raised[index].1.clone()));
        raised.remove(index);
        self.count();
    }

    /// Counts a change and gives its number. Called with the list locked, so that whoever is woken
    /// sees the list as it is after the change.
    fn count(&self) -> u64 {
        let mut number = 0;
        self.0.generation.send_modify(|generation| {
            *generation += 1;
            number = *generation;
        });
        number
    }

    fn tell(&self, change: FaultChange) {
        if let Some(hook) = &self.0.hook {
            hook(change);
        }
    }

    fn raised(&self) -> MutexGuard<'_, Vec<(u64, Fault)>> {
        // Nothing here leaves the list half changed, also when a hook panics.
        self.0.raised.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl fmt::Debug for FaultBoard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("FaultBoard").field(&*self.raised()).finish()
    }
}

/// Keeps a fault in force; dropping it takes the fault back.
#[derive(Debug)]
#[must_use = "the fault is taken back when the guard is dropped"]
pub struct FaultGuard {
    board: FaultBoard,
    id: u64,
}

impl FaultGuard {
    /// Waits until the fault is carried out.
    pub async fn settled(&self) {
        self.board.settled().await;
    }

    /// Takes the fault back and waits until that is carried out.
    pub async fn clear(self) {
        let board = self.board.clone();
        drop(self);
        board.settled().await;
    }
}

impl Drop for FaultGuard {
    fn drop(&mut self) {
        self.board.clear(self.id);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use http::StatusCode;

    use super::*;

    fn status(code: StatusCode) -> Fault {
        Fault::Status {
            code,
            retry_after: None,
        }
    }

    #[test]
    fn the_first_raised_decides_and_the_next_follows_when_it_is_taken_back() {
        let board = FaultBoard::default();
        let first = board.raise(status(StatusCode::SERVICE_UNAVAILABLE));
        let second = board.raise(status(StatusCode::TOO_MANY_REQUESTS));
        assert_eq!(
            board.of_exchange(),
            Some(status(StatusCode::SERVICE_UNAVAILABLE))
        );
        drop(first);
        assert_eq!(
            board.of_exchange(),
            Some(status(StatusCode::TOO_MANY_REQUESTS))
        );
        drop(second);
        assert_eq!(board.of_exchange(), None);
    }

    #[test]
    fn faults_of_different_layers_are_in_force_together() {
        let board = FaultBoard::default();
        let reset = Fault::Reset { after_bytes: 3 };
        let _one = board.raise(reset.clone());
        let _other = board.raise(status(StatusCode::BAD_GATEWAY));
        assert_eq!(board.of_bytes(), Some(reset));
        assert_eq!(board.of_exchange(), Some(status(StatusCode::BAD_GATEWAY)));
        assert!(!board.refuses());
    }

    #[test]
    fn every_change_is_told_in_order() {
        let (sender, told) = mpsc::channel();
        let board = FaultBoard::with_hook(move |change| sender.send(change).unwrap());
        drop(board.raise(Fault::Refuse));
        assert_eq!(told.try_recv(), Ok(FaultChange::Raised(Fault::Refuse)));
        assert_eq!(told.try_recv(), Ok(FaultChange::Cleared(Fault::Refuse)));
        assert!(told.try_recv().is_err());
    }

    #[tokio::test]
    async fn a_board_without_a_host_is_settled_at_once() {
        let board = FaultBoard::default();
        let guard = board.raise(Fault::Refuse);
        guard.settled().await;
        guard.clear().await;
        assert!(!board.refuses());
    }
}
