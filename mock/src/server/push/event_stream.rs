//! A stream of events as a response body.

use std::collections::VecDeque;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use bytes::Bytes;
use futures_util::StreamExt as _;
use futures_util::stream::{self, BoxStream};
use http::HeaderMap;
use http_body::{Body, Frame};
use tokio::time::{Instant, Interval, Sleep};
use tokio_util::sync::WaitForCancellationFutureOwned;

use super::Place;
use super::event_text;
use super::feed::{Entry, Look};
use super::follower::{Follower, Message};
use super::grid;
use crate::dialect::{EventStreamPlan, PushPlan};
use crate::fault::FaultBoard;
use crate::sim::Truth;

/// Looks at a route's body every period and sends it as its plan says.
///
/// Nothing runs while nobody reads: the looking is done when the connection asks for the next piece.
///
/// # Source
/// WHATWG HTML, "Server-sent events": `Last-Event-ID` on reconnection.
pub(in crate::server) struct PushBody {
    place: Place,
    plan: EventStreamPlan,
    follower: Follower,
    stage: Stage,
    looks: Interval,
    silence: Pin<Box<Sleep>>,
    stop: Pin<Box<WaitForCancellationFutureOwned>>,
    /// Wakes when the faults change.
    changes: BoxStream<'static, ()>,
    /// The id sent last.
    last_id: Option<u64>,
    /// What is to be sent once more.
    again: Option<(Bytes, Arc<Truth>)>,
    /// Whether a fault has kept it silent since the last piece.
    was_silent: bool,
}

/// Says how far a stream is.
enum Stage {
    /// Nothing is sent; with the number of the event that the client had last.
    New(Option<u64>),
    /// The reconnection time is sent; with that number.
    Greeted(Option<u64>),
    /// States that the client missed are being sent, while there are any.
    Following(VecDeque<Arc<Entry>>),
}

/// Says why a stream ends.
enum End {
    /// There is nothing to show any more, or not to this client, or a fault has ended it.
    Nothing,
    /// The host is not there any more.
    Away,
}

/// Says that the connection is reset because the host has gone.
#[derive(Debug, thiserror::Error)]
#[error("the host has gone")]
pub(in crate::server) struct HostGone;

impl PushBody {
    pub(super) fn new(
        place: Place,
        plan: &PushPlan,
        form: EventStreamPlan,
        request: &HeaderMap,
    ) -> Self {
        let epoch = place.shared.printer().epoch();
        let stop = Box::pin(place.shared.stop.clone().cancelled_owned());
        Self {
            looks: grid::looks(epoch, plan.period),
            silence: Box::pin(tokio::time::sleep(form.keep_alive)),
            follower: Follower::new(plan),
            stage: Stage::New(last_event_id(request)),
            changes: changes(&place.shared.faults),
            last_id: None,
            again: None,
            was_silent: false,
            place,
            plan: form,
            stop,
        }
    }

    /// Gives the piece to send after a look, if there is one.
    fn look(&mut self) -> Result<Option<Bytes>, End> {
        let (entry, truth) = match self.place.look() {
            Look::State { entry, truth, .. } => (entry, truth),
            Look::Nothing { .. } => return Err(End::Nothing),
            Look::Away => return Err(End::Away),
        };
        if self.follower.has_lost(&truth) {
            return Err(End::Away);
        }
        if let Stage::Greeted(last) = self.stage {
            let mut missed = self.missed(last);
            let next = missed.pop_front();
            let resumed = next.is_some();
            if let Some(known) = next {
                self.follower.resume_from(known);
            }
            self.stage = Stage::Following(missed);
            if resumed {
                return Ok(self.replay());
            }
        }
        let message = self.follower.next(entry);
        Ok(message.and_then(|message| self.send_message(&message, &truth)))
    }

    /// Gives the state that the client has, and then those it has missed; nothing when what it has
    /// is not known.
    fn missed(&self, last: Option<u64>) -> VecDeque<Arc<Entry>> {
        let since = |id| {
            let printer = self.place.shared.printer();
            printer.shown_since(&self.place.matched, id)
        };
        last.and_then(since).unwrap_or_default().into()
    }

    /// Gives the next of the states that the client has missed.
    fn replay(&mut self) -> Option<Bytes> {
        loop {
            let Stage::Following(missed) = &mut self.stage else {
                return None;
            };
            let entry = missed.pop_front()?;
            let truth = Arc::clone(&entry.truth);
            let message = self.follower.next(entry)?;
            if let Some(event) = self.send_message(&message, &truth) {
                return Some(event);
            }
        }
    }

    /// Sends a message as the faults let it; `None` when it is lost, which the host does not know.
    fn send_message(&mut self, message: &Message, truth: &Arc<Truth>) -> Option<Bytes> {
        let faults = self.place.faults_of_message(self.last_id.is_some());
        if faults.missed {
            self.begin_silence();
            return None;
        }
        let event = match self.last_id.filter(|_| faults.repeated_id) {
            Some(id) => event_text::with_id(message, &self.plan, id),
            None => {
                self.last_id = Some(message.entry().id);
                event_text::of(message, &self.plan)
            }
        };
        if faults.repeated {
            self.again = Some((event.clone(), Arc::clone(truth)));
        }
        Some(self.send(event, truth))
    }

    /// Counts the time until a comment is due from now on.
    fn begin_silence(&mut self) {
        self.silence
            .as_mut()
            .reset(Instant::now() + self.plan.keep_alive);
    }

    fn send(&mut self, bytes: Bytes, truth: &Arc<Truth>) -> Bytes {
        self.begin_silence();
        self.place.tell(&bytes, truth);
        bytes
    }

    /// Sends what says nothing of the printer.
    fn send_aside(&mut self, text: impl Into<Bytes>) -> Bytes {
        let now = self.place.shared.wire.clock.now();
        let truth = self.place.shared.printer().truth(now);
        self.send(text.into(), &truth)
    }

    /// Gives the next piece as the faults of streams let it.
    fn poll_faulty(&mut self, cx: &mut Context<'_>) -> Poll<Result<Bytes, End>> {
        while let Poll::Ready(Some(())) = self.changes.poll_next_unpin(cx) {}
        if self.place.refusal().is_some() {
            return Poll::Ready(Err(End::Nothing));
        }
        let faults = self.place.faults();
        if faults.closed.is_some() {
            return match self.stage {
                Stage::New(_) => self.poll_piece(cx),
                _ => Poll::Ready(Err(End::Nothing)),
            };
        }
        if faults.silent {
            self.was_silent = true;
            return self.poll_silently(cx).map(Err);
        }
        if std::mem::take(&mut self.was_silent) {
            self.begin_silence();
            let is_up_to_date =
                matches!(&self.stage, Stage::Following(missed) if missed.is_empty());
            if is_up_to_date
                && self.again.is_none()
                && let Some(event) = self.look()?
            {
                return Poll::Ready(Ok(event));
            }
        }
        self.poll_piece(cx)
    }

    /// Looks as ever and sends nothing. The states are noted for those who come back.
    fn poll_silently(&mut self, cx: &mut Context<'_>) -> Poll<End> {
        while self.looks.poll_tick(cx).is_ready() {
            let has_lost = match self.place.look() {
                Look::State { truth, .. } => self.follower.has_lost(&truth),
                Look::Nothing { .. } => false,
                Look::Away => true,
            };
            if has_lost {
                return Poll::Ready(End::Away);
            }
        }
        Poll::Pending
    }

    /// Gives the next piece; waits until there is one.
    fn poll_piece(&mut self, cx: &mut Context<'_>) -> Poll<Result<Bytes, End>> {
        if let Some((again, truth)) = self.again.take() {
            return Poll::Ready(Ok(self.send(again, &truth)));
        }
        if let Stage::New(last) = self.stage {
            self.stage = Stage::Greeted(last);
            let retry = event_text::retry(&self.plan);
            return Poll::Ready(Ok(self.send_aside(retry)));
        }
        if let Some(event) = self.replay() {
            return Poll::Ready(Ok(event));
        }
        if matches!(self.stage, Stage::Greeted(_))
            && let Some(event) = self.look()?
        {
            return Poll::Ready(Ok(event));
        }
        while self.looks.poll_tick(cx).is_ready() {
            if let Some(event) = self.look()? {
                return Poll::Ready(Ok(event));
            }
        }
        std::task::ready!(self.silence.as_mut().poll(cx));
        Poll::Ready(Ok(self.send_aside(event_text::COMMENT)))
    }
}

/// Gives the changes of a board one by one.
fn changes(faults: &FaultBoard) -> BoxStream<'static, ()> {
    let changed = |mut changes: tokio::sync::watch::Receiver<u64>| async {
        changes.changed().await.ok()?;
        Some(((), changes))
    };
    stream::unfold(faults.changes(), changed).boxed()
}

/// Gives the number of the event that the client had last, if it is one of ours.
fn last_event_id(request: &HeaderMap) -> Option<u64> {
    request.get("last-event-id")?.to_str().ok()?.parse().ok()
}

impl Body for PushBody {
    type Data = Bytes;
    type Error = HostGone;

    fn poll_frame(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, HostGone>>> {
        let this = self.get_mut();
        if this.stop.as_mut().poll(cx).is_ready() {
            return Poll::Ready(None);
        }
        Poll::Ready(match std::task::ready!(this.poll_faulty(cx)) {
            Ok(bytes) => Some(Ok(Frame::data(bytes))),
            Err(End::Nothing) => None,
            Err(End::Away) => {
                this.place.connection.control.reset_on_close();
                Some(Err(HostGone))
            }
        })
    }
}
