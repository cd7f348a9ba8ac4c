//! What is published on one connection.

use std::collections::HashMap;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use serde_json::Value;
use tokio::time::MissedTickBehavior;
use tokio_util::sync::CancellationToken;

use super::link::{self, MAX_MESSAGE_BYTES, Outbox, Packed, QUEUE, Step};
use super::{Broker, Told};
use crate::dialect::{MAX_WILL_BYTES, MqttPlan, Publication, PublicationBody, PushOn, RenderError};
use crate::drift::DriftBoard;
use crate::fault::Occasion;
use crate::server::shared::Shared;
use crate::server::{ConnectionId, WireEvent};
use crate::sim::Truth;

/// The longest time between two looks whether the host still answers.
///
/// Chosen: short beside the restart of any host.
const PULSE: Duration = Duration::from_millis(250);

/// The number that the connection to the broker has for faults: those of clients count from 1.
const BROKER: ConnectionId = ConnectionId(0);

/// Says how a connection ended.
#[derive(Debug)]
pub(super) enum End {
    /// The host was asked to stop, and has said good-bye.
    Stopped,
    /// The host restarts, or has another version now: the connection was cut without a word.
    Away,
    /// There is no connection, or no longer.
    Lost(String),
}

/// Is one connection that the broker has taken in.
struct Connected<'a> {
    shared: &'a Shared,
    /// Which version of the dialect the plan is of.
    place: usize,
    plan: &'a MqttPlan,
    outbox: Outbox,
    /// Messages handed over and not sent yet.
    queued: usize,
    /// Messages sent and not acknowledged yet.
    unacknowledged: u16,
    /// Whether the host is to stop.
    stopping: bool,
    /// Whether the good-bye was handed over.
    parted: bool,
    /// What was published last under each topic on this connection.
    shown: HashMap<String, Packed>,
}

/// Connects and publishes until the end.
pub(super) async fn run(
    shared: &Shared,
    place: usize,
    plan: &MqttPlan,
    broker: &Broker,
    stop: &CancellationToken,
    told: &mut Told,
) -> End {
    let truth = shared.printer().truth(shared.wire.clock.now());
    let will = match plan.will(&truth) {
        Ok(will) => will.map(|will| pack(&shared.drifts, will, MAX_WILL_BYTES)),
        Err(error) => return End::Lost(format!("no will can be made: {error}")),
    };
    let (outbox, line) = link::prepare(broker, plan, will);
    let line = tokio::select! {
        () = stop.cancelled() => return End::Stopped,
        (line, step) = line.next() => match step {
            Ok(Step::Connected) => line,
            Ok(step) => return End::Lost(format!("broker began with {step:?}")),
            Err(reason) => return End::Lost(reason),
        },
    };
    told.connected(shared);
    let mut connected = Connected {
        shared,
        place,
        plan,
        outbox,
        queued: 0,
        unacknowledged: 0,
        stopping: false,
        parted: false,
        shown: HashMap::new(),
    };
    connected.announce(plan.birth(&truth), &truth, told);
    connected.serve(line, stop, told).await
}

impl Connected<'_> {
    async fn serve(&mut self, line: link::Line, stop: &CancellationToken, told: &mut Told) -> End {
        let mut looks = tokio::time::interval(self.plan.period());
        let mut pulse = tokio::time::interval(self.plan.period().min(PULSE));
        // After a slow moment the present state is published, not the looks that were missed.
        looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
        pulse.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut next = pin!(line.next());
        loop {
            tokio::select! {
                biased;
                () = stop.cancelled(), if !self.stopping => {
                    self.stopping = true;
                    let truth = self.truth();
                    self.announce(self.plan.will(&truth), &truth, told);
                    self.part();
                }
                (line, step) = &mut next => {
                    if let Some(end) = self.after(step, line.unacknowledged()) {
                        return end;
                    }
                    next.set(line.next());
                }
                _ = pulse.tick(), if !self.stopping => {
                    let host = &self.truth().printer;
                    let is_updated = self.shared.dialects.spoken(host).place() != self.place;
                    if !host.host_answers || is_updated {
                        return End::Away;
                    }
                }
                _ = looks.tick(), if !self.stopping => self.look(told),
            }
        }
    }

    /// Takes note of a step; gives the end if it was the last.
    fn after(&mut self, step: Result<Step, String>, unacknowledged: u16) -> Option<End> {
        self.unacknowledged = unacknowledged;
        match step {
            Ok(Step::Sent) => self.queued = self.queued.saturating_sub(1),
            Ok(Step::Connected | Step::Other) => {}
            Ok(Step::Disconnected) => return Some(End::Stopped),
            Err(_) if self.parted => return Some(End::Stopped),
            Err(reason) => return Some(End::Lost(reason)),
        }
        self.part();
        None
    }

    /// Says good-bye once everything is delivered: said before an acknowledgement, it would leave a
    /// message behind.
    fn part(&mut self) {
        if self.stopping && !self.parted && self.queued == 0 && self.unacknowledged == 0 {
            self.parted = self.outbox.disconnect();
        }
    }

    fn truth(&self) -> Arc<Truth> {
        self.shared.printer().truth(self.shared.wire.clock.now())
    }

    /// Publishes what is to be published now.
    fn look(&mut self, told: &mut Told) {
        let truth = self.truth();
        if !truth.printer.host_answers {
            return;
        }
        let publications = match self.plan.publications(&truth) {
            Ok(publications) => publications,
            Err(error) => return told.not_published(self.shared, &error),
        };
        for publication in publications {
            let packed = pack(&self.shared.drifts, publication, MAX_MESSAGE_BYTES);
            let same = self.shown.get(&packed.topic) == Some(&packed);
            if self.plan.on() == PushOn::Period || !same {
                self.publish(packed, &truth);
            }
        }
    }

    /// Publishes a birth or a good-bye, if the dialect has one.
    fn announce(
        &mut self,
        publication: Result<Option<Publication>, RenderError>,
        truth: &Arc<Truth>,
        told: &mut Told,
    ) {
        match publication {
            Ok(Some(publication)) => {
                let packed = pack(&self.shared.drifts, publication, MAX_MESSAGE_BYTES);
                self.publish(packed, truth);
            }
            Ok(None) => {}
            Err(error) => told.not_published(self.shared, &error),
        }
    }

    /// Hands a message over as the faults let it. When the broker is so slow that there is no room, or
    /// a fault keeps everything silent, the message is left out: the next look sees that it is still
    /// not shown.
    fn publish(&mut self, packed: Packed, truth: &Arc<Truth>) {
        let faults = &self.shared.faults;
        // Faults know requests, and a message to the broker is the request nearest to it.
        let occasion = Occasion {
            connection: BROKER.0,
            answers_before: 0,
            method: "PUBLISH",
            path: &format!("/{}", packed.topic),
        };
        if self.queued >= QUEUE || faults.of_stream(&occasion).silent {
            return;
        }
        let effects = faults.of_message(&occasion, false);
        self.shared.tell_met(BROKER, None, &effects.met);
        if effects.missed {
            // The host does not know that it is lost.
            self.shown.insert(packed.topic.clone(), packed);
            return;
        }
        if effects.repeated {
            self.hand_over(packed.clone(), truth);
        }
        self.hand_over(packed, truth);
    }

    fn hand_over(&mut self, packed: Packed, truth: &Arc<Truth>) {
        self.shared.wire.tell(|virtual_time| WireEvent::Published {
            virtual_time,
            topic: packed.topic.clone(),
            body: packed.body.clone(),
            retain: packed.retain,
            qos: packed.qos,
            truth: Arc::clone(truth),
        });
        if self.outbox.publish(&packed) {
            self.queued += 1;
            self.shown.insert(packed.topic.clone(), packed);
        }
    }
}

/// Makes the bytes of a message, drifts applied: its shape, then its spelling. With drifts that make it
/// larger than a packet takes it stays as it is, since nothing at all could be sent of it.
fn pack(drifts: &DriftBoard, publication: Publication, most_bytes: usize) -> Packed {
    let body = match &publication.body {
        PublicationBody::Json(body) => Some(drifted(drifts, body.clone())),
        PublicationBody::Text(_) => None,
    };
    Packed {
        body: body
            .filter(|body| body.len() <= most_bytes)
            .unwrap_or_else(|| publication.body.to_bytes()),
        topic: publication.topic,
        retain: publication.retain,
        qos: publication.qos,
    }
}

fn drifted(drifts: &DriftBoard, mut body: Value) -> Bytes {
    drifts.apply(&mut body);
    let spelled = drifts.spell(&body);
    Bytes::from(spelled.unwrap_or_else(|| body.to_string().into_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialect::Qos;
    use crate::drift::{ByteOrderMark, Drift, EmptyBody, ExponentNumbers, Pad, ReplaceByNull};

    fn packed(drifts: Vec<Drift>, body: PublicationBody) -> String {
        let board = DriftBoard::default();
        let _guards: Vec<_> = drifts.into_iter().map(|drift| board.raise(drift)).collect();
        let publication = Publication {
            topic: "job".to_owned(),
            body,
            retain: false,
            qos: Qos::AtMostOnce,
        };
        let packed = pack(&board, publication, MAX_WILL_BYTES);
        String::from_utf8(packed.body.to_vec()).unwrap()
    }

    fn json() -> PublicationBody {
        PublicationBody::Json(serde_json::json!({"percent": 50, "name": null}))
    }

    #[test]
    fn a_message_is_changed_in_shape_and_then_in_spelling() {
        let whole = r#"{"percent":50,"name":null}"#;
        let null = Drift::of("/percent", ReplaceByNull);
        for (drifts, wanted) in [
            (vec![], whole),
            (vec![null.clone()], r#"{"percent":null,"name":null}"#),
            (
                vec![Drift::of("", ExponentNumbers)],
                r#"{"percent":5e1,"name":null}"#,
            ),
            (
                vec![Drift::of("", ByteOrderMark), null],
                "\u{feff}{\"percent\":null,\"name\":null}",
            ),
            (vec![Drift::of("", EmptyBody)], ""),
            (vec![Drift::of("/none", EmptyBody)], whole),
        ] {
            assert_eq!(packed(drifts, json()), wanted);
        }
    }

    #[test]
    fn text_is_left_alone() {
        let text = PublicationBody::Text("50".to_owned());
        assert_eq!(packed(vec![Drift::of("", EmptyBody)], text), "50");
    }

    #[test]
    fn a_message_that_a_drift_makes_too_large_stays_as_it_is() {
        let pad = |bytes| {
            let member = "pad".to_owned();
            packed(vec![Drift::of("", Pad { member, bytes })], json())
        };
        assert_eq!(
            pad(60_000).len(),
            60_000 + r#"{"percent":50,"name":null,"pad":""}"#.len()
        );
        assert_eq!(pad(66_000), r#"{"percent":50,"name":null}"#);
    }
}
