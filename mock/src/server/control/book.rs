//! What is remembered of the wire.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use serde_json::json;

use super::OpenConnection;
use super::change_log::ChangeLog;
use crate::control::{Answered, Asked, Exchange, Exchanges, Redaction, words};
use crate::server::{Observer, WireEvent};

/// Observes a host for the readers of the control API.
#[derive(Debug)]
pub(in crate::server) struct Book {
    pages: Mutex<Pages>,
    log: ChangeLog,
}

#[derive(Debug)]
struct Pages {
    exchanges: Exchanges,
    connections: BTreeMap<u64, OpenConnection>,
}

impl Book {
    pub(in crate::server) fn new(redaction: Redaction, log: ChangeLog) -> Self {
        let pages = Pages {
            exchanges: Exchanges::new(redaction),
            connections: BTreeMap::new(),
        };
        Self {
            pages: Mutex::new(pages),
            log,
        }
    }

    /// Gives the first exchanges after a number, at most so many, and the number of the last there
    /// was.
    pub(super) fn since(&self, number: u64, most: usize) -> (Vec<Exchange>, u64) {
        let pages = self.pages();
        let last = pages.exchanges.last();
        (pages.exchanges.since(number, most), last)
    }

    pub(super) fn connections(&self) -> Vec<OpenConnection> {
        self.pages().connections.values().cloned().collect()
    }

    fn pages(&self) -> MutexGuard<'_, Pages> {
        // Nothing is left half changed.
        self.pages.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell(&self, event: &'static str, data: impl FnOnce() -> serde_json::Value) {
        self.log.tell(event, || data().to_string().into());
    }
}

impl Observer for Book {
    fn observe(&self, _at: Instant, event: WireEvent) {
        let at = event.virtual_time();
        let mut pages = self.pages();
        match event {
            WireEvent::ConnectionOpened {
                connection, peer, ..
            } => {
                let open = OpenConnection {
                    number: connection.0,
                    peer,
                    since: at,
                    requests: 0,
                };
                self.tell("connection-opened", || json!(open));
                pages.connections.insert(connection.0, open);
            }
            WireEvent::ConnectionClosed { connection, .. } => {
                self.tell(
                    "connection-closed",
                    || json!({ "number": connection.0, "at": words(at) }),
                );
                pages.connections.remove(&connection.0);
            }
            WireEvent::RequestReceived {
                connection,
                exchange,
                method,
                target,
                headers,
                body,
                ..
            } => {
                if let Some(open) = pages.connections.get_mut(&connection.0) {
                    open.requests += 1;
                }
                let asked = pages.exchanges.asked(Asked {
                    at,
                    connection: connection.0,
                    number: exchange.0,
                    method: method.as_str(),
                    target: &target,
                    fields: &headers,
                    body: &body,
                });
                self.tell("request", || {
                    json!({
                        "number": asked.number, "at": words(at), "connection": asked.connection,
                        "method": asked.method, "target": asked.target,
                    })
                });
            }
            WireEvent::AnswerSent {
                exchange,
                status,
                headers,
                body,
                ..
            } => {
                pages.exchanges.answered(Answered {
                    at,
                    number: exchange.0,
                    status: status.as_u16(),
                    fields: &headers,
                    body: &body,
                });
                self.tell("answer", || {
                    json!({
                        "number": exchange.0, "at": words(at), "status": status.as_u16(),
                        "bytes": body.len(),
                    })
                });
            }
            WireEvent::PushSent {
                exchange, bytes, ..
            } => pages.exchanges.pushed(exchange.0, bytes.len() as u64),
            WireEvent::FaultHappened {
                connection,
                exchange,
                fault,
                ..
            } => {
                let name = fault.fault.name();
                self.tell("fault-happened", || {
                    json!({
                        "at": words(at), "connection": connection.0,
                        "number": exchange.map(|exchange| exchange.0), "fault": name,
                    })
                });
                if let Some(exchange) = exchange {
                    pages.exchanges.met(exchange.0, name);
                }
            }
            _ => {}
        }
    }
}

/// Tells two observers.
#[derive(Debug)]
pub(in crate::server) struct Both(pub(in crate::server) [Arc<dyn Observer>; 2]);

impl Observer for Both {
    fn observe(&self, at: Instant, event: WireEvent) {
        let [one, other] = &self.0;
        one.observe(at, event.clone());
        other.observe(at, event);
    }
}
