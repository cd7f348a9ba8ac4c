//! One connection to a broker, whichever version of the protocol it speaks.

use bytes::Bytes;
use rumqttc::{Event, LastWill, Outgoing, Packet, v5};

use super::broker::Broker;
use crate::dialect::{MAX_MESSAGES, MqttPlan, MqttProtocol, Qos};

/// How many messages may wait to be sent: those of one look, a birth and a good-bye, each of which a
/// fault may double.
pub(super) const QUEUE: usize = 2 * (MAX_MESSAGES + 2);

/// The largest packet, in bytes. The largest body a dialect can render has fewer.
const MAX_PACKET_BYTES: usize = 16 << 20;

/// The largest body of a message, in bytes: a packet without the longest topic and the rest of its head.
pub(super) const MAX_MESSAGE_BYTES: usize = MAX_PACKET_BYTES - (128 << 10);

/// Is a message with its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Packed {
    pub(super) topic: String,
    pub(super) body: Bytes,
    pub(super) retain: bool,
    pub(super) qos: Qos,
}

/// Takes messages to be sent.
#[derive(Debug)]
pub(super) enum Outbox {
    V3_1_1(rumqttc::AsyncClient),
    V5(v5::AsyncClient),
}

/// Does the sending, when asked for what happens next.
pub(super) enum Line {
    V3_1_1(Box<rumqttc::EventLoop>),
    V5(Box<v5::EventLoop>),
}

/// Says what has happened on a connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// The broker has taken the client in.
    Connected,
    /// A message has been sent, though perhaps not acknowledged.
    Sent,
    /// The good-bye has been sent.
    Disconnected,
    /// Something that needs no attention.
    Other,
}

/// Prepares a connection; nothing is sent before [`Line::next`].
///
/// The session is a clean one (MQTT 3.1.1 section 3.1.2.4): a broker need keep nothing for a client that
/// only publishes what is true now.
pub(super) fn prepare(broker: &Broker, plan: &MqttPlan, will: Option<Packed>) -> (Outbox, Line) {
    let id = plan.client_id().unwrap_or_default();
    match plan.protocol() {
        MqttProtocol::V3_1_1 => {
            let mut options = rumqttc::MqttOptions::new(id, broker.host(), broker.port());
            options.set_keep_alive(plan.keep_alive());
            options.set_max_packet_size(MAX_PACKET_BYTES, MAX_PACKET_BYTES);
            if let Some(login) = broker.login() {
                options.set_credentials(&login.user, &login.password);
            }
            if let Some(will) = will {
                let qos = of_3_1_1(will.qos);
                options.set_last_will(LastWill::new(will.topic, will.body, qos, will.retain));
            }
            let (client, events) = rumqttc::AsyncClient::new(options, QUEUE);
            (Outbox::V3_1_1(client), Line::V3_1_1(Box::new(events)))
        }
        MqttProtocol::V5 => {
            let mut options = v5::MqttOptions::new(id, broker.host(), broker.port());
            options.set_keep_alive(plan.keep_alive());
            if let Some(login) = broker.login() {
                options.set_credentials(&login.user, &login.password);
            }
            if let Some(will) = will {
                let qos = of_5(will.qos);
                let will =
                    v5::mqttbytes::v5::LastWill::new(will.topic, will.body, qos, will.retain, None);
                options.set_last_will(will);
            }
            let (client, events) = v5::AsyncClient::new(options, QUEUE);
            (Outbox::V5(client), Line::V5(Box::new(events)))
        }
    }
}

impl Outbox {
    /// Hands a message over; `false` when there is no room for it.
    pub(super) fn publish(&self, packed: &Packed) -> bool {
        let (topic, body) = (packed.topic.as_str(), packed.body.clone());
        match self {
            Self::V3_1_1(client) => client
                .try_publish(topic, of_3_1_1(packed.qos), packed.retain, body)
                .is_ok(),
            Self::V5(client) => client
                .try_publish(topic, of_5(packed.qos), packed.retain, body)
                .is_ok(),
        }
    }

    /// Asks for the good-bye, after which the broker does not send the will (MQTT 3.1.1
    /// section 3.14).
    pub(super) fn disconnect(&self) -> bool {
        match self {
            Self::V3_1_1(client) => client.try_disconnect().is_ok(),
            Self::V5(client) => client.try_disconnect().is_ok(),
        }
    }
}

impl Line {
    /// Connects, sends, receives, until something has happened. Takes and gives back itself, so that
    /// the wait can be held over from one look to the next: given up halfway, it would lose a message.
    ///
    /// # Errors
    /// Why there is no connection any more; ask no further then.
    pub(super) async fn next(mut self) -> (Self, Result<Step, String>) {
        let step = match &mut self {
            Self::V3_1_1(events) => match events.poll().await {
                Ok(Event::Incoming(Packet::ConnAck(_))) => Ok(Step::Connected),
                Ok(Event::Outgoing(outgoing)) => Ok(sent(&outgoing)),
                Ok(Event::Incoming(_)) => Ok(Step::Other),
                Err(error) => Err(of_cause(&error)),
            },
            Self::V5(events) => match events.poll().await {
                Ok(v5::Event::Incoming(v5::mqttbytes::v5::Packet::ConnAck(_))) => {
                    Ok(Step::Connected)
                }
                Ok(v5::Event::Outgoing(outgoing)) => Ok(sent(&outgoing)),
                Ok(v5::Event::Incoming(_)) => Ok(Step::Other),
                Err(error) => Err(of_cause(&error)),
            },
        };
        (self, step)
    }

    /// Counts the messages that the broker has not acknowledged yet.
    pub(super) fn unacknowledged(&self) -> u16 {
        match self {
            Self::V3_1_1(events) => events.state.inflight(),
            Self::V5(events) => events.state.inflight(),
        }
    }
}

fn sent(outgoing: &Outgoing) -> Step {
    match outgoing {
        Outgoing::Publish(_) => Step::Sent,
        Outgoing::Disconnect => Step::Disconnected,
        _ => Step::Other,
    }
}

/// Gives what lies at the bottom of an error: the layers above only say that it is about MQTT.
fn of_cause(error: &dyn std::error::Error) -> String {
    let mut cause = error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    let text = cause.to_string();
    // The library's words begin with a capital letter, ours do not.
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_ascii_lowercase());
    first.into_iter().chain(letters).collect()
}

fn of_3_1_1(qos: Qos) -> rumqttc::QoS {
    match qos {
        Qos::AtMostOnce => rumqttc::QoS::AtMostOnce,
        Qos::AtLeastOnce => rumqttc::QoS::AtLeastOnce,
        Qos::ExactlyOnce => rumqttc::QoS::ExactlyOnce,
    }
}

fn of_5(qos: Qos) -> v5::mqttbytes::QoS {
    match qos {
        Qos::AtMostOnce => v5::mqttbytes::QoS::AtMostOnce,
        Qos::AtLeastOnce => v5::mqttbytes::QoS::AtLeastOnce,
        Qos::ExactlyOnce => v5::mqttbytes::QoS::ExactlyOnce,
    }
}
