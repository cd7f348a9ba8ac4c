//! From the text of a file to a session.

use std::collections::HashMap;

use super::line::{Line, VERSION};
use crate::model::{Answer, Connection, Content, Exchange, Outcome, Pushed, Request, Session};

/// Is a session as it was read, and what was lost of it.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionFile {
    /// The session.
    pub session: Session,
    /// How many bytes the last line has if it is torn, as a recorder that was killed can leave it; 0 if
    /// it is whole.
    pub torn_bytes: usize,
}

/// Says why a text is no session.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// There is no line at all.
    #[error("the session is empty (its first line says what it is, `\"line\":\"session\"`)")]
    Empty,
    /// The first line is another.
    #[error("line 1 does not say what the file is (a session begins with `\"line\":\"session\"`)")]
    NoSession,
    /// It is of a version that is not known here.
    #[error("line 1: version {found} of the format is not known here (this reads up to {VERSION})")]
    Version {
        /// The version it says.
        found: u64,
    },
    /// A line is not what the format says.
    #[error("line {number}")]
    Line {
        /// Which, from 1.
        number: usize,
        /// What is wrong with it.
        #[source]
        source: serde_json::Error,
    },
    /// A line does not fit to those before it.
    #[error("line {number}: {what}")]
    Order {
        /// Which, from 1.
        number: usize,
        /// What does not fit.
        what: String,
    },
}

impl SessionFile {
    /// Reads the text of a session.
    ///
    /// A last line without its end that is no JSON is left out and its length given: a recorder that
    /// was killed can leave one. Empty lines are passed over.
    ///
    /// # Errors
    /// [`ReadError`], with the number of the line.
    pub fn read(text: &str) -> Result<Self, ReadError> {
        let mut builder: Option<Builder> = None;
        for (index, text) in text.split_inclusive('\n').enumerate() {
            let number = index + 1;
            if text.trim().is_empty() {
                continue;
            }
            let Some(builder) = &mut builder else {
                builder = Some(Builder::begin(text, number)?);
                continue;
            };
            match serde_json::from_str(text) {
                Ok(line) => builder.add(number, line)?,
                Err(_torn) if !text.ends_with('\n') => {
                    return Ok(builder.finish(text.len()));
                }
                Err(source) => return Err(ReadError::Line { number, source }),
            }
        }
        let mut builder = builder.ok_or(ReadError::Empty)?;
        Ok(builder.finish(0))
    }
}

impl Session {
    /// Puts a session together from the lines of its connections and exchanges, whatever their order.
    ///
    /// # Errors
    /// [`ReadError::Order`] if a line does not fit to the others; its number is that by time.
    pub(crate) fn from_lines(mut lines: Vec<Line>) -> Result<Self, ReadError> {
        lines.sort_by_key(|line| (line.at(), line.rank()));
        let mut builder = Builder::default();
        for (line, number) in lines.into_iter().zip(1..) {
            builder.add(number, line)?;
        }
        Ok(builder.finish(0).session)
    }
}

/// Puts a session together.
#[derive(Default)]
struct Builder {
    session: Session,
    connections: HashMap<u64, usize>,
    exchanges: HashMap<u64, usize>,
}

impl Builder {
    fn begin(text: &str, number: usize) -> Result<Self, ReadError> {
        // Looked at before the rest: another version may have other members.
        let value: serde_json::Value =
            serde_json::from_str(text).map_err(|source| ReadError::Line { number, source })?;
        if value["line"] != "session" {
            return Err(ReadError::NoSession);
        }
        if let Some(found) = value["version"].as_u64()
            && found != u64::from(VERSION)
        {
            return Err(ReadError::Version { found });
        }
        let line =
            serde_json::from_value(value).map_err(|source| ReadError::Line { number, source })?;
        let Line::Session {
            recorded_at,
            upstream,
            made_by,
            replaced,
            ..
        } = line
        else {
            return Err(ReadError::NoSession);
        };
        let session = Session {
            recorded_at,
            upstream,
            made_by,
            replaced,
            ..Session::default()
        };
        Ok(Self {
            session,
            ..Self::default()
        })
    }

    fn finish(&mut self, torn_bytes: usize) -> SessionFile {
        let mut session = std::mem::take(&mut self.session);
        session
            .connections
            .sort_by_key(|connection| connection.number);
        session.exchanges.sort_by_key(|exchange| exchange.number);
        SessionFile {
            session,
            torn_bytes,
        }
    }

    fn add(&mut self, number: usize, line: Line) -> Result<(), ReadError> {
        let wrong = |what: String| ReadError::Order { number, what };
        match line {
            Line::Session { .. } => Err(wrong("a second line says what the file is".to_owned())),
            Line::ConnectionOpened {
                at_seconds,
                connection,
                tls,
            } => {
                let at = self.session.connections.len();
                if self.connections.insert(connection, at).is_some() {
                    return Err(wrong(format!("connection {connection} is opened twice")));
                }
                self.session.connections.push(Connection {
                    number: connection,
                    opened: at_seconds,
                    tls,
                    closed: None,
                });
                Ok(())
            }
            Line::ConnectionClosed {
                at_seconds,
                connection,
                by,
                reset,
            } => {
                let known = self.connections.get(&connection);
                let known = known.map(|at| &mut self.session.connections[*at]);
                match known {
                    Some(known) if at_seconds < known.opened => Err(wrong(format!(
                        "connection {connection} is closed before it is opened"
                    ))),
                    Some(known) if known.closed.is_none() => {
                        known.closed = Some((at_seconds, by, reset));
                        Ok(())
                    }
                    Some(_) => Err(wrong(format!("connection {connection} is closed twice"))),
                    None => Err(wrong(format!("connection {connection} was never opened"))),
                }
            }
            Line::Request {
                at_seconds,
                connection,
                exchange,
                method,
                target,
                http_version,
                fields,
                body,
            } => {
                let Some(known) = self.connections.get(&connection) else {
                    return Err(wrong(format!("connection {connection} was never opened")));
                };
                if at_seconds < self.session.connections[*known].opened {
                    return Err(wrong(format!(
                        "exchange {exchange} begins before its connection is opened"
                    )));
                }
                let at = self.session.exchanges.len();
                if self.exchanges.insert(exchange, at).is_some() {
                    return Err(wrong(format!("exchange {exchange} begins twice")));
                }
                let request = Request {
                    at: at_seconds,
                    method,
                    target,
                    version: http_version,
                    fields,
                    body,
                };
                let exchange = Exchange {
                    number: exchange,
                    connection,
                    request,
                    outcome: None,
                };
                self.session.exchanges.push(exchange);
                Ok(())
            }
            other => self.continue_exchange(other).map_err(wrong),
        }
    }

    fn continue_exchange(&mut self, line: Line) -> Result<(), String> {
        // Lines are written again by their times, and have to stay in their order.
        if let (Some(at), Some(number)) = (line.at(), line.exchange())
            && at < self.begun(number)?.last_moment()
        {
            return Err(format!(
                "it is earlier than what exchange {number} was told of before"
            ));
        }
        match line {
            Line::Answer {
                at_seconds,
                exchange,
                status,
                reason,
                http_version,
                fields,
                body,
                framing,
                chunks,
                pieces,
                end,
                raw,
            } => self.set_outcome(
                exchange,
                Outcome::Answered(Answer {
                    status,
                    reason,
                    version: http_version,
                    fields,
                    framing,
                    content: Content::Whole {
                        body,
                        chunks,
                        pieces,
                        raw,
                    },
                    ended: Some((at_seconds, end)),
                }),
            ),
            Line::NoAnswer {
                at_seconds,
                exchange,
                end,
                received,
            } => self.set_outcome(
                exchange,
                Outcome::NoAnswer {
                    at: at_seconds,
                    end,
                    received,
                },
            ),
            Line::StreamBegun {
                at_seconds,
                exchange,
                status,
                reason,
                http_version,
                fields,
                framing,
                stream,
            } => self.set_outcome(
                exchange,
                Outcome::Answered(Answer {
                    status,
                    reason,
                    version: http_version,
                    fields,
                    framing,
                    content: Content::Stream {
                        begun: at_seconds,
                        kind: stream,
                        pushed: Vec::new(),
                    },
                    ended: None,
                }),
            ),
            Line::Pushed {
                at_seconds,
                exchange,
                body,
            } => self.push(exchange, (at_seconds, Pushed::Bytes(body))),
            Line::Frame {
                at_seconds,
                exchange,
                frame,
            } => self.push(exchange, (at_seconds, Pushed::Frame(frame))),
            Line::StreamEnded {
                at_seconds,
                exchange,
                end,
            } => {
                let answer = self.open_stream(exchange)?.1;
                *answer = Some((at_seconds, end));
                Ok(())
            }
            Line::Session { .. }
            | Line::ConnectionOpened { .. }
            | Line::ConnectionClosed { .. }
            | Line::Request { .. } => unreachable!("the caller has taken it"),
        }
    }

    fn begun(&mut self, number: u64) -> Result<&mut Exchange, String> {
        let at = self.exchanges.get(&number);
        at.map(|at| &mut self.session.exchanges[*at])
            .ok_or_else(|| format!("exchange {number} never began"))
    }

    fn set_outcome(&mut self, number: u64, outcome: Outcome) -> Result<(), String> {
        let exchange = self.begun(number)?;
        if exchange.outcome.is_some() {
            return Err(format!("exchange {number} is answered twice"));
        }
        exchange.outcome = Some(outcome);
        Ok(())
    }

    fn push(&mut self, number: u64, pushed: (std::time::Duration, Pushed)) -> Result<(), String> {
        self.open_stream(number)?.0.push(pushed);
        Ok(())
    }

    #[expect(
        clippy::type_complexity,
        reason = "both are told what they are by the model"
    )]
    fn open_stream(
        &mut self,
        number: u64,
    ) -> Result<
        (
            &mut Vec<(std::time::Duration, Pushed)>,
            &mut Option<(std::time::Duration, super::End)>,
        ),
        String,
    > {
        match &mut self.begun(number)?.outcome {
            Some(Outcome::Answered(Answer {
                content: Content::Stream { pushed, .. },
                ended: ended @ None,
                ..
            })) => Ok((pushed, ended)),
            _ => Err(format!(
                "the answer of exchange {number} is no stream, or is over"
            )),
        }
    }
}
