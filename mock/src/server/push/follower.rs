//! What one client has seen of a route.

use std::sync::Arc;

use bytes::Bytes;

use super::boot::Boot;
use super::feed::Entry;
use crate::dialect::{PushMessages, PushOn, PushPlan};
use crate::sim::Truth;

/// Knows what one client was sent last, and so what it is sent next.
#[derive(Debug)]
pub(super) struct Follower {
    on: PushOn,
    messages: PushMessages,
    /// Whether the client can tell a whole body from a patch.
    marks_whole: bool,
    last: Option<Arc<Entry>>,
    /// The last state sent that was JSON.
    readable: Option<Arc<Entry>>,
    boot: Option<Boot>,
}

/// Is something to send.
#[derive(Debug)]
pub(super) enum Message {
    /// The whole body of a state.
    Full(Arc<Entry>),
    /// What a state has changed in the one before it.
    Patch(Arc<Entry>, Bytes),
    /// What a state has changed in an older one, for this client alone.
    OwnPatch(Arc<Entry>, Bytes),
}

impl Message {
    /// Gives the state that the client has with this.
    pub(super) fn entry(&self) -> &Arc<Entry> {
        match self {
            Self::Full(entry) | Self::Patch(entry, _) | Self::OwnPatch(entry, _) => entry,
        }
    }

    /// Gives the bytes of the message itself.
    pub(super) fn payload(&self) -> &Bytes {
        match self {
            Self::Full(entry) => &entry.body,
            Self::Patch(_, patch) | Self::OwnPatch(_, patch) => patch,
        }
    }
}

impl Follower {
    pub(super) fn new(plan: &PushPlan) -> Self {
        Self {
            on: plan.on,
            messages: plan.messages,
            marks_whole: plan.form.marks_whole(),
            last: None,
            readable: None,
            boot: None,
        }
    }

    /// Tells whether the host has restarted since the client's connection was made.
    pub(super) fn has_lost(&mut self, truth: &Truth) -> bool {
        let boot = Boot::of(truth);
        !self.boot.get_or_insert(boot).is_same(boot)
    }

    /// Takes note that the client has this state already.
    pub(super) fn resume_from(&mut self, entry: Arc<Entry>) {
        self.remember(entry);
    }

    fn remember(&mut self, entry: Arc<Entry>) {
        if self.messages == PushMessages::MergePatch && entry.is_json() {
            self.readable = Some(Arc::clone(&entry));
        }
        self.last = Some(entry);
    }

    /// Gives what to send to a client when the present state is this one.
    ///
    /// A client that has missed states gets the present one, or one patch from what it has to the
    /// present one.
    pub(super) fn next(&mut self, entry: Arc<Entry>) -> Option<Message> {
        let message = self.message(entry)?;
        self.remember(Arc::clone(message.entry()));
        Some(message)
    }

    fn message(&self, entry: Arc<Entry>) -> Option<Message> {
        let Some(last) = &self.last else {
            return Some(Message::Full(entry));
        };
        // Bodies are compared, not numbers: a route that was forgotten meanwhile counts anew.
        let changed = !Arc::ptr_eq(last, &entry) && last.body != entry.body;
        if !changed && self.on == PushOn::Change {
            return None;
        }
        if self.messages == PushMessages::Full {
            return Some(Message::Full(entry));
        }
        let patch = self
            .patched()
            .and_then(|known| Some((known, entry.patch_from(known)?)));
        Some(match patch {
            None => Message::Full(entry),
            Some((known, patch)) if entry.follows(known) => Message::Patch(entry, patch),
            Some((_, patch)) => Message::OwnPatch(entry, patch),
        })
    }

    /// Gives the state that a patch begins with.
    ///
    /// After a state that was no JSON the client cannot have that one. A client that is told which
    /// messages are whole is sent the next one whole. One that is not would take a whole body for a
    /// patch, and keep what has gone from it: it is sent what has changed since the last state that it
    /// could read.
    fn patched(&self) -> Option<&Arc<Entry>> {
        let last = self.last.as_ref().filter(|last| last.is_json());
        if self.marks_whole {
            return last;
        }
        last.or(self.readable.as_ref())
    }
}
