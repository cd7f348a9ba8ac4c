//! `/log` and `/log/stream`

use std::convert::Infallible;
use std::pin::Pin;
use std::time::Duration;

use axum::extract::State;
use axum::response::Response;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{self, Stream};
use http::{HeaderValue, StatusCode};
use serde_json::json;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;
use tokio::time::{Interval, MissedTickBehavior};
use tokio_util::sync::WaitForCancellationFutureOwned;

use super::super::Control;
use super::super::change_log::Notice;
use super::answer::answer;
use crate::control::words;
use crate::sim::Phase;

/// How often the phase is looked at for a reader, in real time.
///
/// Chosen: a person sees no delay, and an idle mock stays idle.
const LOOKS: Duration = Duration::from_millis(250);

/// Gives the log as JSON Lines. Its media type is registered nowhere (common practice).
pub(super) async fn show(State(control): State<Control>) -> Response {
    let kind = HeaderValue::from_static("application/jsonl");
    answer(StatusCode::OK, kind, control.log())
}

/// Streams changes, requests, answers, faults that happen, and phases, until the host stops.
///
/// # Source
/// WHATWG HTML, "Server-sent events".
pub(super) async fn stream(
    State(control): State<Control>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let mut looks = tokio::time::interval(LOOKS);
    looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let reader = Reader {
        notices: control.notices(),
        looks,
        phase: None,
        stop: Box::pin(control.shared.stop.clone().cancelled_owned()),
        control,
    };
    let events = stream::unfold(reader, |mut reader| async {
        let event = reader.next().await?;
        Some((Ok(event), reader))
    });
    Sse::new(events).keep_alive(KeepAlive::default())
}

/// Is somebody who reads the stream.
struct Reader {
    control: Control,
    notices: Receiver<Notice>,
    looks: Interval,
    /// The phase told last.
    phase: Option<Phase>,
    stop: Pin<Box<WaitForCancellationFutureOwned>>,
}

impl Reader {
    async fn next(&mut self) -> Option<Event> {
        loop {
            tokio::select! {
                biased;
                () = &mut self.stop => return None,
                notice = self.notices.recv() => return match notice {
                    Ok(notice) => Some(Event::default().event(notice.event).data(&*notice.data)),
                    Err(RecvError::Lagged(missed)) => {
                        Some(Event::default().event("missed").data(json!({ "count": missed }).to_string()))
                    }
                    Err(RecvError::Closed) => None,
                },
                _ = self.looks.tick() => {
                    if let Some(event) = self.look() {
                        return Some(event);
                    }
                }
            }
        }
    }

    /// Tells of the phase if it is another one.
    fn look(&mut self) -> Option<Event> {
        let truth = self.control.truth();
        if self.phase == Some(truth.phase) {
            return None;
        }
        self.phase = Some(truth.phase);
        let data = json!({ "at": words(truth.at), "phase": truth.phase });
        Some(Event::default().event("phase").data(data.to_string()))
    }
}
