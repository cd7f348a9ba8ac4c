//! How answers of a session are heard.

use std::collections::BTreeMap;

use coldbed_mock::dialect::{BodyReader, Dialect, Reading};
use coldbed_session::{Body, Content, End, Exchange, Outcome};
use serde_json::Value;

use super::{Expectations, Heard, Said};

/// More of an answer's content is not shown (own choice: a screen of text).
const SHOWN_BYTES: usize = 4000;

/// Hears the answers of one session in the order in which they are given.
#[derive(Debug)]
pub struct Hearing {
    reader: BodyReader,
    expectations: Expectations,
    /// What each target said last, for an answer that says only that nothing has changed.
    last: BTreeMap<String, Reading>,
}

impl Hearing {
    /// Hears by a dialect, and by what the user expects.
    pub fn new(dialect: &Dialect, expectations: Expectations) -> Self {
        Self {
            reader: dialect.reader(),
            expectations,
            last: BTreeMap::new(),
        }
    }

    /// Hears an answer. `end` is how it ended for the watcher; `None` while it still went on.
    pub fn hear(&mut self, exchange: &Exchange, end: Option<End>) -> Heard {
        let said = match self.believable(exchange, end) {
            Ok(body) => self.read(exchange, body),
            Err(said) => said,
        };
        if let Said::Told(reading) = &said {
            self.last
                .insert(exchange.request.target.clone(), reading.clone());
        }
        Heard {
            recorded: exchange.number,
            at: exchange.request.at,
            status: exchange.answer().map(|answer| answer.status),
            content: shown(exchange),
            said,
            expected: self.expectations.of(exchange),
        }
    }

    /// Gives the content of an answer that says what is true now; `None` if it says that nothing has
    /// changed.
    fn believable<'e>(
        &self,
        exchange: &'e Exchange,
        end: Option<End>,
    ) -> Result<Option<&'e Body>, Said> {
        let unusable = |why: String| Err(Said::Unusable(why));
        let answer = match &exchange.outcome {
            Some(Outcome::Answered(answer)) => answer,
            _ => return unusable("there is no answer".to_owned()),
        };
        let Content::Whole { body, .. } = &answer.content else {
            return Err(Said::NotRead("it is a stream".to_owned()));
        };
        match (end, answer.status) {
            (Some(End::Complete), 200 | 304) => {}
            (Some(End::Complete), status) => return unusable(format!("its status is {status}")),
            _ => return unusable("it does not come whole".to_owned()),
        }
        let coding = answer.field("content-encoding").map(str::trim);
        match (coding, body) {
            (Some(coding), _) if !coding.is_empty() && !coding.eq_ignore_ascii_case("identity") => {
                Err(Said::NotRead(format!("its content is coded as {coding}")))
            }
            (_, Body::Withheld(withheld)) => Err(Said::NotRead(format!(
                "its content is not in the session: {}",
                withheld.reason
            ))),
            _ if answer.status == 304 => Ok(None),
            _ => Ok(Some(body)),
        }
    }

    fn read(&self, exchange: &Exchange, body: Option<&Body>) -> Said {
        let target = &exchange.request.target;
        let path = exchange.request.path();
        let decoded = percent_encoding::percent_decode_str(path).decode_utf8_lossy();
        let is_read = self.reader.paths().any(|known| known == decoded);
        if exchange.request.method != "GET" || !is_read {
            return Said::NotRead(format!(
                "the dialect reads no answer to {} {decoded}",
                exchange.request.method
            ));
        }
        let Some(body) = body else {
            return match self.last.get(target) {
                Some(reading) => Said::Told(reading.clone()),
                None => {
                    Said::Unusable("it says that what was never said has not changed".to_owned())
                }
            };
        };
        let bytes = body.bytes(SHOWN_BYTES);
        match serde_json::from_slice::<Value>(&bytes) {
            Err(_) => Said::Unusable("its content is no JSON".to_owned()),
            Ok(value) if !(value.is_object() || value.is_array()) => {
                Said::Unusable("its content is JSON, but no object or list".to_owned())
            }
            Ok(value) => match self.reader.read(&decoded, &value) {
                Some(reading) => Said::Told(reading),
                None => Said::NotRead(format!("the dialect does not read {decoded}")),
            },
        }
    }
}

fn shown(exchange: &Exchange) -> String {
    let body = match exchange.answer().map(|answer| &answer.content) {
        Some(Content::Whole { body, .. }) => body,
        _ => return String::new(),
    };
    let bytes = body.bytes(SHOWN_BYTES);
    String::from_utf8_lossy(&bytes[..bytes.len().min(SHOWN_BYTES)]).into_owned()
}
