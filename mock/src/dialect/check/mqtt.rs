//! What is published through a broker, as written -> checked [`MqttPlan`].

use std::ops::RangeInclusive;
use std::time::Duration;

use crate::dialect::file::Spanned;
use indexmap::IndexMap;

use super::reader::Reader;
use crate::dialect::compile::Compiler;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Text};
use crate::dialect::mqtt_plan::{Body, Each, Message, MqttPlan, MqttProtocol, Qos, Topic};
use crate::dialect::place::Place;
use crate::dialect::push_plan::PushOn;
use crate::dialect::render::RenderError;
use crate::dialect::{Dialect, sample, text, topic_name};
use crate::sim::HeaterTruth;

/// The shortest and the longest time between two looks, in milliseconds: those of a push.
const PERIOD_MS: RangeInclusive<u64> = 10..=3_600_000;

/// The time between two looks, unless the file says otherwise. Chosen: as often as a person reads.
const DEFAULT_PERIOD_MS: u64 = 1000;

/// The shortest and the longest keep-alive time, in seconds: two bytes in the packet (MQTT 3.1.1
/// section 3.1.2.10); the lower end is the client library's.
const KEEP_ALIVE_S: RangeInclusive<u64> = 5..=65_535;

/// The keep-alive time, unless the file says otherwise. Chosen: the broker gives a client up after one
/// and a half times that (MQTT 3.1.1 section 3.1.2.10).
const DEFAULT_KEEP_ALIVE_S: u64 = 30;

/// The longest client name, in bytes.
///
/// # Source
/// OASIS MQTT 3.1.1 section 1.5.3. Every broker takes 23 letters and digits, and may take more
/// (section 3.1.3.1).
const MAX_CLIENT_ID_BYTES: usize = 65_535;

/// Checks what is published.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    raw: &Spanned<file::Mqtt>,
    words: &minijinja::Value,
    compiler: &mut Compiler<'_>,
) -> Result<MqttPlan, DialectError> {
    let start = raw.span().start;
    let raw = raw.get_ref();
    if raw.topics.is_empty() && raw.birth.is_none() {
        let what = "`mqtt.topics` or `mqtt.birth`";
        return Err(reader.error(start, "mqtt", DialectProblem::Missing { what }));
    }
    let plain = qos(reader, "mqtt.qos", raw.qos.as_ref(), Qos::default())?;
    let mut notice = |field: &str, notice: &Option<Spanned<file::Notice>>| {
        let draft = notice
            .as_ref()
            .map(|notice| Draft::of_notice(notice, plain));
        draft
            .map(|draft| draft.check(reader, field, compiler))
            .transpose()
    };
    let will = notice("mqtt.will", &raw.will)?;
    let birth = notice("mqtt.birth", &raw.birth)?;
    let mut topics = Vec::with_capacity(raw.topics.len());
    for (index, topic) in raw.topics.iter().enumerate() {
        let field = format!("mqtt.topics[{index}]");
        topics.push(Topic {
            each: each(reader, &field, topic)?,
            message: Draft::of_topic(topic, plain).check(reader, &field, compiler)?,
        });
    }
    let period =
        reader.within_if_there("mqtt.period-ms", raw.period_ms.as_ref(), PERIOD_MS, "ms")?;
    let keep_alive = reader.within_if_there(
        "mqtt.keep-alive-s",
        raw.keep_alive_s.as_ref(),
        KEEP_ALIVE_S,
        "s",
    )?;
    Ok(MqttPlan {
        protocol: reader.one_of(
            "mqtt.protocol",
            raw.protocol.as_ref(),
            &[("3.1.1", MqttProtocol::V3_1_1), ("5", MqttProtocol::V5)],
        )?,
        client_id: client_id(reader, raw.client_id.as_ref())?,
        keep_alive: Duration::from_secs(keep_alive.unwrap_or(DEFAULT_KEEP_ALIVE_S)),
        on: reader.one_of(
            "mqtt.on",
            raw.on.as_ref(),
            &[("change", PushOn::Change), ("period", PushOn::Period)],
        )?,
        period: Duration::from_millis(period.unwrap_or(DEFAULT_PERIOD_MS)),
        will,
        birth,
        topics,
        words: words.clone(),
    })
}

/// Is one message as written, whichever table it stands in.
struct Draft<'a> {
    start: usize,
    topic: &'a Text,
    text: Option<&'a Text>,
    body: Option<&'a Text>,
    retain: bool,
    qos: Option<&'a Spanned<u64>>,
    plain: Qos,
}

impl<'a> Draft<'a> {
    /// A will and a birth say how things are, so they are kept unless the file says otherwise.
    fn of_notice(raw: &'a Spanned<file::Notice>, plain: Qos) -> Self {
        let start = raw.span().start;
        let raw = raw.get_ref();
        Self {
            start,
            topic: &raw.topic,
            text: raw.text.as_ref(),
            body: raw.body.as_ref(),
            retain: raw.retain.unwrap_or(true),
            qos: raw.qos.as_ref(),
            plain,
        }
    }

    fn of_topic(raw: &'a Spanned<file::Topic>, plain: Qos) -> Self {
        let start = raw.span().start;
        let raw = raw.get_ref();
        Self {
            start,
            topic: &raw.topic,
            text: raw.text.as_ref(),
            body: raw.body.as_ref(),
            retain: raw.retain.unwrap_or(false),
            qos: raw.qos.as_ref(),
            plain,
        }
    }

    fn check(
        &self,
        reader: &Reader<'_>,
        field: &str,
        compiler: &mut Compiler<'_>,
    ) -> Result<Message, DialectError> {
        let place = |name: &str| format!("{field}.{name}");
        let body = match (self.body, self.text) {
            (Some(body), None) => {
                let source = reader.source(&place("body"), body);
                Body::Json(reader.located(compiler.compile(&source))?)
            }
            (None, Some(text)) => {
                Body::Text(reader.located(reader.source(&place("text"), text).phrase())?)
            }
            _ => {
                let choices = "`body` and `text`";
                return Err(reader.error(self.start, field, DialectProblem::OneOf { choices }));
            }
        };
        let source = reader.source(&place("topic"), self.topic);
        // What holds an expression is looked at when it is rendered.
        if !source.text.contains("{{")
            && let Some(fault) = topic_name::fault(source.text)
        {
            return Err(reader.not_allowed(&place("topic"), self.topic, fault, &[]));
        }
        Ok(Message {
            site: Place::top(&source).site(0),
            topic: reader.located(source.phrase())?,
            body,
            retain: self.retain,
            qos: qos(reader, &place("qos"), self.qos, self.plain)?,
        })
    }
}

fn each(
    reader: &Reader<'_>,
    field: &str,
    topic: &Spanned<file::Topic>,
) -> Result<Option<Each>, DialectError> {
    let (list, names) = match (&topic.get_ref().each, &topic.get_ref().names) {
        (None, None) => return Ok(None),
        (Some(list), Some(names)) => (list, names),
        (None, Some(names)) => {
            let problem = DialectProblem::Missing { what: "`each`" };
            return Err(reader.error(names.span().start, field, problem));
        }
        (Some(list), None) => {
            let problem = DialectProblem::Missing { what: "`as`" };
            return Err(reader.error(list.span().start, field, problem));
        }
    };
    let bound = names.get_ref();
    if !(1..=2).contains(&bound.len()) || !bound.iter().all(|name| text::is_name(name)) {
        let problem = DialectProblem::NotAllowed {
            value: bound.join(", "),
            allowed: "one name or two, of letters, digits and `_`".to_owned(),
            hint: None,
        };
        return Err(reader.error(names.span().start, &format!("{field}.as"), problem));
    }
    let source = reader.source(&format!("{field}.each"), list);
    Ok(Some(Each {
        names: bound.clone(),
        list: reader.located(source.expression())?,
    }))
}

fn client_id(reader: &Reader<'_>, text: Option<&Text>) -> Result<Option<String>, DialectError> {
    let Some(text) = text else { return Ok(None) };
    let id = text.get_ref();
    if id.is_empty() || id.len() > MAX_CLIENT_ID_BYTES || id.contains(char::is_control) {
        let allowed = "a client's name: 1 to 65535 bytes without control characters, and 23 \
                       letters and digits are taken by every broker (MQTT 3.1.1 section 3.1.3.1)";
        return Err(reader.not_allowed("mqtt.client-id", text, allowed, &[]));
    }
    Ok(Some(id.clone()))
}

fn qos(
    reader: &Reader<'_>,
    field: &str,
    value: Option<&Spanned<u64>>,
    default: Qos,
) -> Result<Qos, DialectError> {
    let Some(value) = value else {
        return Ok(default);
    };
    match value.get_ref() {
        0 => Ok(Qos::AtMostOnce),
        1 => Ok(Qos::AtLeastOnce),
        2 => Ok(Qos::ExactlyOnce),
        _ => {
            let allowed = "a QoS: 0, 1 or 2 (MQTT 3.1.1 section 3.3.1.2)";
            Err(reader.bad_number(field, value, allowed))
        }
    }
}

impl Dialect {
    /// Tries every message with the heaters of a truth, in every phase. As
    /// [`Dialect::check_heaters`], for what is published.
    ///
    /// # Errors
    /// What cannot be rendered.
    pub fn check_publications(
        &self,
        heaters: &IndexMap<String, HeaterTruth>,
    ) -> Result<(), RenderError> {
        let Some(plan) = &self.mqtt else {
            return Ok(());
        };
        sample::samples().into_iter().try_for_each(|mut sample| {
            sample.truth.heaters = heaters.clone();
            plan.check(&sample.truth)
        })
    }
}
