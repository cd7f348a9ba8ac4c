//! Lines and sessions without credentials.

use std::io::Read as _;

use bytes::Bytes;
use flate2::read::{GzDecoder, ZlibDecoder};
use percent_encoding::percent_decode_str;

use super::credentials::{of_field, whole};
use super::json::scalars;
use super::rules::Rules;
use super::secrets::{Secrets, digits};
use crate::format::{Body, Line, Withheld};
use crate::http::head::{Fields, field};
use crate::model::Session;

/// Replaces credentials, line by line.
#[derive(Debug)]
pub struct Redactor {
    rules: Rules,
    secrets: Secrets,
}

/// The most that is unpacked to look into it.
const UNPACKED_LIMIT: u64 = 16 << 20;

impl Redactor {
    /// Begins with what is known from the start.
    pub fn new(rules: Rules) -> Self {
        let mut secrets = Secrets::default();
        for value in rules.values() {
            secrets.stand_in(value);
        }
        Self { rules, secrets }
    }

    /// Replaces what is secret in a line: by name, and all that is known as a secret by then.
    pub fn replace(&mut self, mut line: Line) -> Line {
        match &mut line {
            Line::Session { .. }
            | Line::ConnectionOpened { .. }
            | Line::ConnectionClosed { .. } => return line,
            Line::StreamEnded { .. } => {}
            Line::Request {
                target,
                fields,
                body,
                ..
            } => {
                self.target(target);
                self.fields(fields);
                self.body(body, fields);
                self.known_in(target);
                self.known_in_fields(fields);
            }
            Line::Answer {
                fields,
                body,
                raw,
                reason,
                ..
            } => {
                self.fields(fields);
                self.body(body, fields);
                if let Some(raw) = raw {
                    self.body(raw, fields);
                }
                self.known_in(reason);
                self.known_in_fields(fields);
            }
            Line::StreamBegun { fields, .. } => {
                self.fields(fields);
                self.known_in_fields(fields);
            }
            Line::NoAnswer { received: body, .. } | Line::Pushed { body, .. } => {
                self.body(body, &Vec::new());
            }
            Line::Frame { frame, .. } => self.body(&mut frame.body, &Vec::new()),
        }
        line
    }

    fn target(&mut self, target: &mut String) {
        // RFC 3986 section 3.2.1: whoever writes a password into a URL.
        if let Some((before, rest)) = target.split_once("://")
            && let Some((user, after)) = rest.split_once('@')
            && !user.contains('/')
        {
            *target = format!("{before}://{}@{after}", whole(user, &mut self.secrets));
        }
        if let Some((path, query)) = target.split_once('?') {
            *target = format!("{path}?{}", self.pairs(query));
        }
    }

    /// Replaces the values of a query or a form.
    fn pairs(&mut self, text: &str) -> String {
        let replaced: Vec<String> = text
            .split('&')
            .map(|pair| match pair.split_once('=') {
                Some((name, value)) if self.rules.is_query(&decoded(name)) && !value.is_empty() => {
                    let secret = decoded(value);
                    let mark = self.secrets.stand_in(value);
                    // As it is meant, too: it may stand elsewhere without an escape.
                    self.secrets.stand_in(&secret);
                    format!("{name}={mark}")
                }
                _ => pair.to_owned(),
            })
            .collect();
        replaced.join("&")
    }

    fn fields(&mut self, fields: &mut Fields) {
        for (name, value) in fields.iter_mut() {
            if self.rules.is_field(name) {
                *value = of_field(name, value, &mut self.secrets);
            } else if name.eq_ignore_ascii_case("location") || name.eq_ignore_ascii_case("referer")
            {
                self.target(value);
            }
        }
    }

    fn known_in(&self, text: &mut String) {
        let mut bytes = std::mem::take(text).into_bytes();
        self.secrets.replace(&mut bytes);
        // Secrets are whole texts, and so are stand-ins.
        *text = String::from_utf8_lossy(&bytes).into_owned();
    }

    fn known_in_fields(&self, fields: &mut Fields) {
        for (_, value) in fields {
            self.known_in(value);
        }
    }

    fn body(&mut self, body: &mut Body, fields: &Fields) {
        if let Some(why) = self.hides(body, fields) {
            *body = Body::Withheld(Withheld {
                bytes: body.len(),
                reason: why,
            });
            return;
        }
        match body {
            Body::Withheld(_) => {}
            Body::Text(text) => {
                self.members(text);
                let is_form = field(fields, "content-type")
                    .is_some_and(|media| media.starts_with("application/x-www-form-urlencoded"));
                if is_form {
                    *text = self.pairs(text);
                }
                self.known_in(text);
            }
            Body::Base64(bytes) => {
                let mut replaced = bytes.to_vec();
                self.secrets.replace(&mut replaced);
                *bytes = Bytes::from(replaced);
            }
        }
    }

    /// Replaces the members of a JSON text that are secret by name or place.
    fn members(&mut self, text: &mut String) {
        for scalar in scalars(text) {
            if !self.rules.is_member(&scalar.name, &scalar.pointer) || scalar.span.is_empty() {
                continue;
            }
            let value = text[scalar.span.clone()].to_owned();
            let mark = match scalar.is_string {
                true => {
                    if let Ok(meant) = serde_json::from_str::<String>(&format!("\"{value}\"")) {
                        self.secrets.stand_in(&meant);
                    }
                    self.secrets.stand_in(&value)
                }
                false => digits(&value),
            };
            text.replace_range(scalar.span, &mark);
        }
    }

    /// Says why a body that is packed cannot be kept.
    fn hides(&mut self, body: &Body, fields: &Fields) -> Option<String> {
        let coding = field(fields, "content-encoding")?
            .trim()
            .to_ascii_lowercase();
        if coding.is_empty() || coding == "identity" || body.is_empty() {
            return None;
        }
        let bytes = match body {
            Body::Withheld(_) => return None,
            _ => body.bytes(0),
        };
        let mut text = String::new();
        let unpacked = match &coding[..] {
            "gzip" | "x-gzip" => GzDecoder::new(&bytes[..])
                .take(UNPACKED_LIMIT)
                .read_to_string(&mut text),
            "deflate" => ZlibDecoder::new(&bytes[..])
                .take(UNPACKED_LIMIT)
                .read_to_string(&mut text),
            _ => {
                return Some(format!(
                    "coding `{coding}` cannot be looked into for secrets"
                ));
            }
        };
        if unpacked.is_err() {
            return Some(format!(
                "coding `{coding}` could not be unpacked to look for secrets"
            ));
        }
        let before = text.clone();
        self.members(&mut text);
        let is_secret = before != text || self.secrets.is_in(before.as_bytes());
        is_secret.then(|| format!("a secret in coding `{coding}`"))
    }
}

fn decoded(text: &str) -> String {
    percent_decode_str(&text.replace('+', " "))
        .decode_utf8_lossy()
        .into_owned()
}

/// Gives a session without credentials: also those that are known only later on are gone from its
/// beginning.
pub fn scrub(session: &Session, rules: &Rules) -> Session {
    let mut redactor = Redactor::new(rules.clone());
    let lines = session.lines();
    let once: Vec<Line> = lines
        .into_iter()
        .map(|line| redactor.replace(line))
        .collect();
    // By now all are known.
    let twice: String = once
        .into_iter()
        .map(|line| redactor.replace(line).text())
        .collect();
    // What was just written can be read.
    let read = crate::format::SessionFile::read(&twice).map(|file| file.session);
    let mut scrubbed = read.unwrap_or_default();
    for told in rules.told() {
        if !scrubbed.replaced.contains(&told) {
            scrubbed.replaced.push(told);
        }
    }
    scrubbed
}
