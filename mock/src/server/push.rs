//! A push stream as a response body.

use std::convert::Infallible;
use std::fmt::Write as _;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use bytes::Bytes;
use http_body::{Body, Frame};
use tokio::time::{Instant, Interval, MissedTickBehavior};
use tokio_util::sync::WaitForCancellationFutureOwned;

use super::shared::Shared;
use super::{ExchangeId, WireEvent};
use crate::dialect::{Matched, PushPlan};
use crate::sim::Truth;

/// Looks at a route's body every period and sends it when it has changed.
///
/// Nothing runs while nobody reads: the looking is done when the connection asks for the next piece.
///
/// # Source
/// WHATWG HTML, "Server-sent events": `retry`, `id`, `data`, comments.
pub(super) struct PushBody {
    shared: Arc<Shared>,
    matched: Matched,
    plan: PushPlan,
    exchange: ExchangeId,
    looks: Interval,
    begun: bool,
    shown: Option<Bytes>,
    last_sent: Instant,
    stop: Pin<Box<WaitForCancellationFutureOwned>>,
}

impl PushBody {
    pub(super) fn new(
        shared: Arc<Shared>,
        matched: Matched,
        plan: PushPlan,
        exchange: ExchangeId,
    ) -> Self {
        let mut looks = tokio::time::interval(plan.period);
        // A client that was slow to read gets the present state, not the looks it missed.
        looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let stop = Box::pin(shared.stop.clone().cancelled_owned());
        Self {
            shared,
            matched,
            plan,
            exchange,
            looks,
            begun: false,
            shown: None,
            last_sent: Instant::now(),
            stop,
        }
    }

    /// Gives the piece to send now, if there is one; `Err` when there is nothing to show any more.
    fn look(&mut self) -> Result<Option<Bytes>, ()> {
        let now = self.shared.wire.clock.now();
        let (answer, truth) = self.shared.printer().answer(now, &self.matched);
        if !answer.status.is_success() {
            return Err(());
        }
        let piece = if self.shown.as_ref() != Some(&answer.body) {
            self.shown = Some(answer.body.clone());
            event(truth.at.tick().0, &answer.body)
        } else if self.last_sent.elapsed() >= self.plan.keep_alive {
            ": still here\n\n".to_owned()
        } else {
            return Ok(None);
        };
        Ok(Some(self.send(piece, truth)))
    }

    fn send(&mut self, piece: String, truth: Arc<Truth>) -> Bytes {
        self.last_sent = Instant::now();
        let bytes = Bytes::from(piece);
        self.shared.wire.tell(|virtual_time| WireEvent::PushSent {
            virtual_time,
            exchange: self.exchange,
            bytes: bytes.clone(),
            truth,
        });
        bytes
    }
}

/// Writes an event. Every line of the data needs its own field.
fn event(id: u64, data: &[u8]) -> String {
    let mut text = format!("id: {id}\n");
    for line in String::from_utf8_lossy(data).lines() {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "data: {line}");
    }
    text.push('\n');
    text
}

impl Body for PushBody {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        let this = self.get_mut();
        let frame = |bytes| Poll::Ready(Some(Ok(Frame::data(bytes))));
        if this.stop.as_mut().poll(cx).is_ready() {
            return Poll::Ready(None);
        }
        if !this.begun {
            this.begun = true;
            let retry = format!("retry: {}\n\n", this.plan.retry.as_millis());
            let truth = this.shared.printer().truth(this.shared.wire.clock.now());
            return frame(this.send(retry, truth));
        }
        loop {
            std::task::ready!(this.looks.poll_tick(cx));
            match this.look() {
                Ok(Some(bytes)) => return frame(bytes),
                Ok(None) => {}
                Err(()) => return Poll::Ready(None),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_an_event_has_its_own_data_field() {
        assert_eq!(event(7, b"{\n}"), "id: 7\ndata: {\ndata: }\n\n");
    }
}
