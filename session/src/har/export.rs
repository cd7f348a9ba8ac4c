//! From a session to an archive.

use std::time::Duration;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};

use super::types::{
    Archive, Creator, Entry, Log, Pair, PostData, Request, Response, Stuff, Timings,
};
use crate::format::{Body, Line, Spoken};
use crate::model::{Answer, Content, Exchange, Pushed, Session};

/// Writes a session as an archive.
///
/// An exchange without an answer has status 0 (common practice). What was pushed is the content of its
/// stream's answer.
pub fn export(session: &Session) -> Archive {
    let began = session
        .recorded_at
        .as_deref()
        .and_then(|at| at.parse::<Timestamp>().ok());
    let began = began.unwrap_or(Timestamp::UNIX_EPOCH);
    let lines = session.lines();
    let value = |line: &Line| serde_json::to_value(line).unwrap_or_default();
    let entry = |exchange: &Exchange| Entry {
        own: lines
            .iter()
            .filter(|line| line.exchange() == Some(exchange.number))
            .map(value)
            .collect(),
        ..entry(exchange, session.upstream.as_deref(), began)
    };
    Archive {
        log: Log {
            version: "1.2".to_owned(),
            creator: Creator {
                name: "coldbed".to_owned(),
                version: env!("CARGO_PKG_VERSION").to_owned(),
            },
            entries: session.exchanges.iter().map(entry).collect(),
            own: lines
                .iter()
                .filter(|line| line.exchange().is_none())
                .map(value)
                .collect(),
        },
    }
}

fn entry(exchange: &Exchange, upstream: Option<&str>, began: Timestamp) -> Entry {
    let request = &exchange.request;
    let since = |at: Duration| at.saturating_sub(request.at);
    let total = since(exchange.last_moment());
    let first = match exchange.answer().map(|answer| &answer.content) {
        Some(Content::Whole { pieces, .. }) => {
            pieces.first().map_or(total, |piece| piece.after_seconds)
        }
        Some(Content::Stream { begun, .. }) => since(*begun),
        None => total,
    };
    let at = SignedDuration::try_from(request.at).unwrap_or_default();
    let upstream = upstream.unwrap_or("http://host.invalid");
    Entry {
        started_date_time: began.saturating_add(at).unwrap_or(began).to_string(),
        time: milliseconds(total),
        request: Request {
            method: request.method.clone(),
            url: match request.target.contains("://") {
                true => request.target.clone(),
                false => format!("{upstream}{}", request.target),
            },
            http_version: request.version.name().to_owned(),
            cookies: Vec::new(),
            headers: pairs(&request.fields),
            query_string: query(&request.target),
            post_data: (!request.body.is_empty()).then(|| PostData {
                mime_type: request.field("content-type").unwrap_or_default().to_owned(),
                text: request.body.text().unwrap_or_default().to_owned(),
            }),
            headers_size: -1,
            body_size: size(&request.body),
        },
        response: exchange.answer().map_or_else(none, response),
        cache: json!({}),
        timings: Timings {
            blocked: -1.0,
            dns: -1.0,
            connect: -1.0,
            send: 0.0,
            wait: milliseconds(first),
            receive: milliseconds(total.saturating_sub(first)),
        },
        connection: Some(exchange.connection.to_string()),
        own: Vec::new(),
    }
}

fn response(answer: &Answer) -> Response {
    let body = match &answer.content {
        Content::Whole { body, .. } => body.clone(),
        Content::Stream { pushed, .. } => {
            let texts = pushed.iter().filter_map(|(_, pushed)| match pushed {
                Pushed::Bytes(body) => body.text(),
                Pushed::Frame(_) => None,
            });
            Body::Text(texts.collect())
        }
    };
    let (text, encoding) = match &body {
        Body::Text(text) => (Some(text.clone()), None),
        Body::Base64(bytes) => (Some(STANDARD.encode(bytes)), Some("base64".to_owned())),
        Body::Withheld(_) => (None, None),
    };
    Response {
        status: answer.status,
        status_text: answer.reason.clone(),
        http_version: answer.version.name().to_owned(),
        cookies: Vec::new(),
        headers: pairs(&answer.fields),
        content: Stuff {
            size: size(&body),
            mime_type: answer
                .field("content-type")
                .unwrap_or("application/octet-stream")
                .to_owned(),
            text,
            encoding,
        },
        redirect_url: answer.field("location").unwrap_or_default().to_owned(),
        headers_size: i64::try_from(answer.head_bytes().len()).unwrap_or(-1),
        body_size: size(&body),
    }
}

/// An answer that there is not.
fn none() -> Response {
    Response {
        status: 0,
        status_text: String::new(),
        http_version: Spoken::Http11.name().to_owned(),
        cookies: Vec::new(),
        headers: Vec::new(),
        content: Stuff {
            size: 0,
            mime_type: "x-unknown".to_owned(),
            ..Stuff::default()
        },
        redirect_url: String::new(),
        headers_size: -1,
        body_size: -1,
    }
}

fn pairs(fields: &[(String, String)]) -> Vec<Pair> {
    fields
        .iter()
        .map(|(name, value)| Pair {
            name: name.clone(),
            value: value.clone(),
        })
        .collect()
}

fn query(target: &str) -> Vec<Pair> {
    let query = target.split_once('?').map_or("", |(_, query)| query);
    form_urlencoded::parse(query.as_bytes())
        .map(|(name, value)| Pair {
            name: name.into_owned(),
            value: value.into_owned(),
        })
        .collect()
}

fn size(body: &Body) -> i64 {
    i64::try_from(body.len()).unwrap_or(i64::MAX)
}

fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1000.0
}

impl Archive {
    /// Gives the archive as text.
    pub fn text(&self) -> String {
        // Every member is a string, a finite number or a list of them.
        let value = serde_json::to_value(self).unwrap_or(Value::Null);
        format!("{value:#}\n")
    }
}
