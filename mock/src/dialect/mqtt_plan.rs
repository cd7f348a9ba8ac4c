//! What a host publishes through a broker.

use std::collections::HashSet;
use std::time::Duration;

use bytes::Bytes;
use minijinja::Value as Term;
use serde_json::Value;

use super::Dialect;
use super::body::{Node, Phrase};
use super::expression::Expression;
use super::place::Site;
use super::push_plan::PushOn;
use super::render::{self, RenderError};
use super::scope::Scope;
use super::topic_name;
use crate::sim::Truth;

/// The largest message of a will, in bytes.
///
/// # Source
/// OASIS MQTT 3.1.1 section 3.1.3.3, MQTT 5.0 section 3.1.3.4: a length of two bytes stands before it.
pub const MAX_WILL_BYTES: usize = 65_535;

/// The most messages of one look.
///
/// Chosen: a loop over a loop must not fill the memory, and a printer has some ten things to tell.
pub const MAX_MESSAGES: usize = 1000;

/// Says which version of the protocol is spoken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MqttProtocol {
    /// Version 3.1.1 (ISO/IEC 20922).
    V3_1_1,
    /// Version 5.0.
    V5,
}

/// Says how hard a message is delivered.
///
/// # Source
/// OASIS MQTT 3.1.1 section 4.3, MQTT 5.0 section 4.3.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Qos {
    /// 0.
    #[default]
    AtMostOnce,
    /// 1.
    AtLeastOnce,
    /// 2.
    ExactlyOnce,
}

/// Is a message to be published.
#[derive(Debug, Clone, PartialEq)]
pub struct Publication {
    /// The topic, checked.
    pub topic: String,
    /// What it says.
    pub body: PublicationBody,
    /// Whether the broker keeps it for those who subscribe later (MQTT 3.1.1 section 3.3.1.3).
    pub retain: bool,
    /// How hard it is delivered.
    pub qos: Qos,
}

/// Is what a message says.
#[derive(Debug, Clone, PartialEq)]
pub enum PublicationBody {
    /// JSON, which drifts can be applied to.
    Json(Value),
    /// Text, which drifts leave alone.
    Text(String),
}

impl PublicationBody {
    /// Gives the bytes on the wire.
    pub fn to_bytes(&self) -> Bytes {
        match self {
            Self::Json(body) => Bytes::from(body.to_string()),
            Self::Text(text) => Bytes::from(text.clone()),
        }
    }
}

/// Is what a dialect says about MQTT, checked.
#[derive(Debug)]
pub struct MqttPlan {
    pub(super) protocol: MqttProtocol,
    pub(super) client_id: Option<String>,
    pub(super) keep_alive: Duration,
    pub(super) on: PushOn,
    pub(super) period: Duration,
    pub(super) will: Option<Message>,
    pub(super) birth: Option<Message>,
    pub(super) topics: Vec<Topic>,
    pub(super) words: Term,
}

/// Is one message, not rendered yet.
#[derive(Debug)]
pub(super) struct Message {
    pub(super) topic: Phrase,
    /// Where the topic is written.
    pub(super) site: Site,
    pub(super) body: Body,
    pub(super) retain: bool,
    pub(super) qos: Qos,
}

/// Is what a message says, not rendered yet.
#[derive(Debug)]
pub(super) enum Body {
    Json(Node),
    Text(Phrase),
}

/// Is one message, or one for each item of a list.
#[derive(Debug)]
pub(super) struct Topic {
    pub(super) each: Option<Each>,
    pub(super) message: Message,
}

/// Is a list with the names its items are bound to.
#[derive(Debug)]
pub(super) struct Each {
    /// One name for the item, or two to take a pair apart.
    pub(super) names: Vec<String>,
    pub(super) list: Expression,
}

impl Dialect {
    /// Gives what the dialect says about MQTT, if it does.
    pub fn mqtt(&self) -> Option<&MqttPlan> {
        self.mqtt.as_ref()
    }
}

impl MqttPlan {
    /// Gives the version of the protocol.
    pub fn protocol(&self) -> MqttProtocol {
        self.protocol
    }

    /// Gives the client's name; without one the broker gives one (MQTT 3.1.1 section 3.1.3.1).
    pub fn client_id(&self) -> Option<&str> {
        self.client_id.as_deref()
    }

    /// Gives the silence after which the client lets the broker know that it is there.
    pub fn keep_alive(&self) -> Duration {
        self.keep_alive
    }

    /// Says when a topic is published again.
    pub fn on(&self) -> PushOn {
        self.on
    }

    /// Gives the real time between two looks at the printer.
    pub fn period(&self) -> Duration {
        self.period
    }

    /// Renders every topic, in the order of the file.
    ///
    /// # Errors
    /// An expression without a value, a topic that may not be published to, one topic twice,
    /// more than [`MAX_MESSAGES`].
    pub fn publications(&self, truth: &Truth) -> Result<Vec<Publication>, RenderError> {
        let scope = self.scope(truth);
        let mut all = Vec::with_capacity(self.topics.len());
        let mut seen = HashSet::new();
        for Topic { each, message } in &self.topics {
            let mut add = |publication: Publication| {
                let twice = !seen.insert(publication.topic.clone());
                if twice || all.len() >= MAX_MESSAGES {
                    return Err(message.one_too_many(&publication.topic, twice));
                }
                all.push(publication);
                Ok(())
            };
            match each {
                None => add(message.render(&scope)?)?,
                Some(each) => render::rounds(&each.names, &each.list, &scope)?
                    .try_for_each(|round| add(message.render(&round?)?))?,
            }
        }
        Ok(all)
    }

    /// Renders the will: what the broker publishes when the client is gone without a word, and what
    /// the client publishes itself before it says good-bye.
    ///
    /// # Errors
    /// As [`MqttPlan::publications`], or too large a message.
    pub fn will(&self, truth: &Truth) -> Result<Option<Publication>, RenderError> {
        let Some(will) = &self.will else {
            return Ok(None);
        };
        let publication = will.render(&self.scope(truth))?;
        if publication.body.to_bytes().len() > MAX_WILL_BYTES {
            let message =
                format!("a will has at most {MAX_WILL_BYTES} bytes (MQTT 3.1.1 section 3.1.3.3)");
            return Err(at(&will.site, message));
        }
        Ok(Some(publication))
    }

    /// Renders the birth: what is published first on every connection.
    ///
    /// # Errors
    /// As [`MqttPlan::publications`].
    pub fn birth(&self, truth: &Truth) -> Result<Option<Publication>, RenderError> {
        self.birth
            .as_ref()
            .map(|birth| birth.render(&self.scope(truth)))
            .transpose()
    }

    /// Renders everything there is.
    pub(super) fn check(&self, truth: &Truth) -> Result<(), RenderError> {
        self.will(truth)?;
        self.birth(truth)?;
        self.publications(truth).map(|_| ())
    }

    fn scope(&self, truth: &Truth) -> Scope {
        Scope::new(Term::from_serialize(truth)).bind("words", self.words.clone())
    }
}

impl Message {
    fn render(&self, scope: &Scope) -> Result<Publication, RenderError> {
        let topic = render::phrase(&self.topic, scope)?;
        if let Some(fault) = topic_name::fault(&topic) {
            let message = format!("`{}` is not {fault}", topic.escape_debug());
            return Err(at(&self.site, message));
        }
        Ok(Publication {
            topic,
            body: match &self.body {
                Body::Json(node) => PublicationBody::Json(render::body(node, scope)?),
                Body::Text(text) => PublicationBody::Text(render::phrase(text, scope)?),
            },
            retain: self.retain,
            qos: self.qos,
        })
    }

    /// Says why a message cannot join the others. Of two with one topic, subscribers would see it
    /// jump to and fro, and of retained ones only the last would stay.
    fn one_too_many(&self, topic: &str, twice: bool) -> RenderError {
        at(
            &self.site,
            if twice {
                format!("topic `{topic}` has two messages")
            } else {
                format!("more than {MAX_MESSAGES} messages at one moment")
            },
        )
    }
}

fn at(site: &Site, message: String) -> RenderError {
    RenderError {
        field: site.field.to_string(),
        line: Some(site.line),
        ..RenderError::of_the_whole(message)
    }
}
