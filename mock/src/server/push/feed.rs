//! The states that the routes have shown to their followers.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, OnceLock};

use bytes::Bytes;
use serde_json::Value;
use tokio::time::Instant;

use super::boot::Boot;
use crate::dialect::{Answer, Matched, ShownKey, merge_patch};
use crate::fault::Fault;
use crate::server::printer::Printer;
use crate::sim::{Truth, VirtualTime};

/// How many states of a route are kept for those who come back: more than two minutes at two looks
/// a second.
const KEPT_ENTRIES: usize = 256;

/// How many bytes the bodies of those states have at most, all together, the latest one not counted.
///
/// Chosen: more than 256 bodies of any built-in dialect have. A drift can make bodies of 16 MiB.
const KEPT_BYTES: usize = 4 << 20;

/// How many routes have their states kept. A path with parameters is a route for each of their
/// values, and those come from the client.
const KEPT_FEEDS: usize = 64;

/// Holds what the routes have shown, behind the printer's lock.
#[derive(Debug)]
pub(in crate::server) struct Feeds {
    /// The moment from which the looks are counted.
    epoch: Instant,
    feeds: HashMap<ShownKey, Feed>,
    /// Counts the looks.
    looks: u64,
}

impl Default for Feeds {
    fn default() -> Self {
        Self {
            epoch: Instant::now(),
            feeds: HashMap::new(),
            looks: 0,
        }
    }
}

/// Is what one route has shown, oldest first.
#[derive(Debug)]
struct Feed {
    entries: VecDeque<Arc<Entry>>,
    boot: Boot,
    /// The id given last; ids never go back, also when the entries are forgotten.
    last_id: Option<u64>,
    /// When it was looked at last, as a number of looks.
    looked: u64,
}

/// Is one state of a route, made when somebody looked and the body was another than before.
///
/// What it is sent as is made when first needed, once for all followers.
#[derive(Debug)]
pub(super) struct Entry {
    /// Its number: the tick it was seen at, or one more than the number before where a command or a
    /// drift has changed the body within one tick.
    pub(super) id: u64,
    /// The whole body.
    pub(super) body: Bytes,
    /// What was true then.
    pub(super) truth: Arc<Truth>,
    /// The body of the entry before it.
    before: Option<Bytes>,
    /// What the body says; `None` when it is no JSON.
    value: OnceLock<Option<Value>>,
    patch: OnceLock<Option<Bytes>>,
    pub(super) full_event: OnceLock<Bytes>,
    pub(super) patch_event: OnceLock<Bytes>,
}

impl Entry {
    /// Gives what the body says; `None` when it is no JSON, as a drift may make it.
    fn value(&self) -> Option<&Value> {
        let read = || serde_json::from_slice(&self.body).ok();
        self.value.get_or_init(read).as_ref()
    }

    /// Tells whether a patch can lead to this state and away from it.
    pub(super) fn is_json(&self) -> bool {
        self.value().is_some()
    }

    /// Tells whether a state is the one before this.
    pub(super) fn follows(&self, other: &Self) -> bool {
        self.before.as_ref() == Some(&other.body)
    }

    /// Gives the merge patch from another state to this one, `{}` where nothing has changed; `None`
    /// when either is no JSON. From the state before it is made once for all.
    pub(super) fn patch_from(&self, other: &Self) -> Option<Bytes> {
        let patch = || {
            let patch = merge_patch::diff(other.value()?, self.value()?);
            Some(patch.map_or(Bytes::from_static(b"{}"), |patch| {
                Bytes::from(patch.to_string())
            }))
        };
        if self.follows(other) {
            return self.patch.get_or_init(patch).clone();
        }
        patch()
    }
}

/// Is what somebody who looks at a route finds.
#[derive(Debug)]
pub(super) enum Look {
    /// The route's present state.
    State {
        /// The state.
        entry: Arc<Entry>,
        /// The same as an answer.
        answer: Answer,
        /// What is true now.
        truth: Arc<Truth>,
    },
    /// There is nothing to show: an answer that says why.
    Nothing {
        /// The answer.
        answer: Answer,
        /// What is true now.
        truth: Arc<Truth>,
    },
    /// The host is not there.
    Away,
}

impl Printer {
    /// Looks at a push route, and notes its state if it is a new one. A fault may show an old one.
    pub(super) fn look(
        &mut self,
        at: VirtualTime,
        matched: &Matched,
        old: Option<(u64, &Fault)>,
    ) -> Look {
        let (answer, truth) = match old {
            Some(old) => self.old_answer(at, matched, old),
            None => self.answer(at, matched),
        };
        if !truth.printer.host_answers {
            return Look::Away;
        }
        if !answer.status.is_success() {
            return Look::Nothing { answer, truth };
        }
        let entry = self.feeds.note(matched, &answer.body, &truth);
        Look::State {
            entry,
            answer,
            truth,
        }
    }

    /// Gives the moment from which looks are counted.
    pub(super) fn epoch(&self) -> Instant {
        self.feeds.epoch
    }

    /// Gives the states of a route from the one of that number on; `None` when no state of that
    /// number is known any more.
    pub(super) fn shown_since(&self, matched: &Matched, id: u64) -> Option<Vec<Arc<Entry>>> {
        let entries = &self.feeds.feeds.get(&matched.key_without_body())?.entries;
        let known = entries.iter().position(|entry| entry.id == id)?;
        Some(entries.iter().skip(known).cloned().collect())
    }
}

impl Feeds {
    fn note(&mut self, matched: &Matched, body: &Bytes, truth: &Arc<Truth>) -> Arc<Entry> {
        self.looks += 1;
        let key = matched.key_without_body();
        if !self.feeds.contains_key(&key) {
            self.make_room();
        }
        let feed = self.feeds.entry(key).or_insert_with(|| Feed {
            entries: VecDeque::new(),
            boot: Boot::of(truth),
            last_id: None,
            looked: 0,
        });
        feed.looked = self.looks;
        feed.note(body, truth)
    }

    /// Forgets the route that nobody has looked at for longest, if there are too many.
    fn make_room(&mut self) {
        if self.feeds.len() < KEPT_FEEDS {
            return;
        }
        let oldest = self.feeds.iter().min_by_key(|(_, feed)| feed.looked);
        if let Some(matched) = oldest.map(|(matched, _)| matched.clone()) {
            self.feeds.remove(&matched);
        }
    }
}

impl Feed {
    fn note(&mut self, body: &Bytes, truth: &Arc<Truth>) -> Arc<Entry> {
        let boot = Boot::of(truth);
        if !self.boot.is_same(boot) {
            // A host that has restarted remembers nothing of what it sent.
            self.entries.clear();
            self.boot = boot;
        }
        if let Some(last) = self.entries.back()
            && last.body == *body
        {
            return Arc::clone(last);
        }
        let tick = truth.at.tick().0;
        let id = match self.last_id {
            Some(last) => tick.max(last.saturating_add(1)),
            None => tick,
        };
        self.last_id = Some(id);
        let entry = Arc::new(Entry {
            id,
            body: body.clone(),
            truth: Arc::clone(truth),
            before: self.entries.back().map(|last| last.body.clone()),
            value: OnceLock::new(),
            patch: OnceLock::new(),
            full_event: OnceLock::new(),
            patch_event: OnceLock::new(),
        });
        self.entries.push_back(Arc::clone(&entry));
        self.forget();
        entry
    }

    /// Forgets the oldest states, if there are too many.
    fn forget(&mut self) {
        let size = |entry: &Arc<Entry>| entry.body.len();
        let mut bytes: usize = self.entries.iter().rev().skip(1).map(size).sum();
        while self.entries.len() > KEPT_ENTRIES || bytes > KEPT_BYTES {
            let Some(oldest) = self.entries.pop_front() else {
                return;
            };
            bytes = bytes.saturating_sub(size(&oldest));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;
    use crate::sim::Simulation;

    fn feed_of(bodies: usize, bytes: usize) -> Feed {
        let scenario = Scenario::builtin("printing").unwrap().unwrap();
        let truth = Simulation::new(Arc::new(scenario), 1).truth_at(VirtualTime::ZERO);
        let truth = Arc::new(truth);
        let mut feed = Feed {
            entries: VecDeque::new(),
            boot: Boot::of(&truth),
            last_id: None,
            looked: 0,
        };
        for number in 0..bodies {
            let mut body = vec![b' '; bytes];
            body[..8].copy_from_slice(&number.to_be_bytes());
            feed.note(&body.into(), &truth);
        }
        feed
    }

    #[test]
    fn states_are_kept_by_number_and_large_ones_by_their_bytes() {
        let kept = |bodies, bytes| feed_of(bodies, bytes).entries.len();
        assert_eq!(kept(200, 1000), 200);
        assert_eq!(kept(300, 1000), KEPT_ENTRIES);
        // Four of a megabyte, and the latest.
        assert_eq!(kept(300, 1 << 20), 5);
        assert_eq!(kept(3, 16 << 20), 1);
    }
}
