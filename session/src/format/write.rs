//! From a session to the lines of its file.

use std::time::Duration;

use super::line::{Line, VERSION};
use crate::model::{Answer, Content, Exchange, Outcome, Pushed, Session};

impl Line {
    /// Gives the line as it stands in the file, with its end.
    pub fn text(&self) -> String {
        // Every member is a string, a finite number or a list of them.
        let mut text = serde_json::to_string(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Gives when it happened; `None` for the first line.
    pub fn at(&self) -> Option<Duration> {
        match self {
            Self::Session { .. } => None,
            Self::ConnectionOpened { at_seconds, .. }
            | Self::Request { at_seconds, .. }
            | Self::Answer { at_seconds, .. }
            | Self::NoAnswer { at_seconds, .. }
            | Self::StreamBegun { at_seconds, .. }
            | Self::Pushed { at_seconds, .. }
            | Self::Frame { at_seconds, .. }
            | Self::StreamEnded { at_seconds, .. }
            | Self::ConnectionClosed { at_seconds, .. } => Some(*at_seconds),
        }
    }

    /// Gives the exchange it is about, if it is about one.
    pub fn exchange(&self) -> Option<u64> {
        match self {
            Self::Session { .. }
            | Self::ConnectionOpened { .. }
            | Self::ConnectionClosed { .. } => None,
            Self::Request { exchange, .. }
            | Self::Answer { exchange, .. }
            | Self::NoAnswer { exchange, .. }
            | Self::StreamBegun { exchange, .. }
            | Self::Pushed { exchange, .. }
            | Self::Frame { exchange, .. }
            | Self::StreamEnded { exchange, .. } => Some(*exchange),
        }
    }

    /// Tells whether an exchange is over with it.
    pub fn ends_an_exchange(&self) -> bool {
        matches!(
            self,
            Self::Answer { .. } | Self::NoAnswer { .. } | Self::StreamEnded { .. }
        )
    }

    /// Says where it stands among lines of the same moment: what begins comes before what ends.
    pub(crate) fn rank(&self) -> u8 {
        match self {
            Self::Session { .. } => 0,
            Self::ConnectionOpened { .. } => 1,
            Self::Request { .. } => 2,
            Self::StreamBegun { .. } => 3,
            Self::Pushed { .. } | Self::Frame { .. } => 4,
            Self::Answer { .. } | Self::NoAnswer { .. } | Self::StreamEnded { .. } => 5,
            Self::ConnectionClosed { .. } => 6,
        }
    }
}

impl Session {
    /// Gives the lines of the session's file, by time.
    pub fn lines(&self) -> Vec<Line> {
        let mut lines = vec![Line::Session {
            version: VERSION,
            recorded_at: self.recorded_at.clone(),
            upstream: self.upstream.clone(),
            made_by: self.made_by.clone(),
            replaced: self.replaced.clone(),
        }];
        for connection in &self.connections {
            lines.push(Line::ConnectionOpened {
                at_seconds: connection.opened,
                connection: connection.number,
                tls: connection.tls,
            });
            if let Some((at_seconds, by, reset)) = connection.closed {
                let connection = connection.number;
                lines.push(Line::ConnectionClosed {
                    at_seconds,
                    connection,
                    by,
                    reset,
                });
            }
        }
        for exchange in &self.exchanges {
            exchange.write(&mut lines);
        }
        // Stable: what is pushed at one moment keeps its order.
        lines.sort_by_key(|line| (line.at(), line.rank()));
        lines
    }

    /// Gives the text of the session's file.
    pub fn text(&self) -> String {
        self.lines().iter().map(Line::text).collect()
    }
}

impl Exchange {
    fn write(&self, lines: &mut Vec<Line>) {
        let request = self.request.clone();
        lines.push(Line::Request {
            at_seconds: request.at,
            connection: self.connection,
            exchange: self.number,
            method: request.method,
            target: request.target,
            http_version: request.version,
            fields: request.fields,
            body: request.body,
        });
        match &self.outcome {
            None => {}
            Some(Outcome::NoAnswer { at, end, received }) => lines.push(Line::NoAnswer {
                at_seconds: *at,
                exchange: self.number,
                end: *end,
                received: received.clone(),
            }),
            Some(Outcome::Answered(answer)) => answer.write(self.number, lines),
        }
    }
}

impl Answer {
    /// Adds the lines of an answer that is at its end, or of a stream.
    pub(crate) fn write(&self, exchange: u64, lines: &mut Vec<Line>) {
        let Self {
            status,
            reason,
            version,
            fields,
            framing,
            content,
            ended,
        } = self.clone();
        match content {
            Content::Whole {
                body,
                chunks,
                pieces,
                raw,
            } => {
                if let Some((at_seconds, end)) = ended {
                    lines.push(Line::Answer {
                        at_seconds,
                        exchange,
                        status,
                        reason,
                        http_version: version,
                        fields,
                        body,
                        framing,
                        chunks,
                        pieces,
                        end,
                        raw,
                    });
                }
            }
            Content::Stream {
                begun,
                kind,
                pushed,
            } => {
                lines.push(Line::StreamBegun {
                    at_seconds: begun,
                    exchange,
                    status,
                    reason,
                    http_version: version,
                    fields,
                    framing,
                    stream: kind,
                });
                for (at_seconds, pushed) in pushed {
                    lines.push(match pushed {
                        Pushed::Bytes(body) => Line::Pushed {
                            at_seconds,
                            exchange,
                            body,
                        },
                        Pushed::Frame(frame) => Line::Frame {
                            at_seconds,
                            exchange,
                            frame,
                        },
                    });
                }
                if let Some((at_seconds, end)) = ended {
                    lines.push(Line::StreamEnded {
                        at_seconds,
                        exchange,
                        end,
                    });
                }
            }
        }
    }
}
