//! Sightings that a device posts by HTTP.

use std::convert::Infallible;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, SocketAddrV4};
use std::sync::Arc;
use std::time::Duration;

use http::header::{ALLOW, AUTHORIZATION, CONTENT_TYPE, WWW_AUTHENTICATE};
use http::{HeaderName, HeaderValue, Method, Request, Response, StatusCode};
use http_body_util::{BodyExt as _, Full, LengthLimitError, Limited};
use hyper::body::{Bytes, Incoming};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use serde_json::{Value, json};
use subtle::ConstantTimeEq as _;
use tokio::net::TcpListener;
use tokio::task::JoinSet;
use tokio_util::task::AbortOnDropHandle;

use crate::watcher::cut::LINE_LIMIT;
use crate::watcher::ear::Ear;

/// Is where a device posts its sightings.
#[derive(Debug, Clone)]
pub(in crate::watcher) struct CallbackAt {
    /// Address and port; port 0 picks one.
    pub(in crate::watcher) listen: SocketAddr,
    /// The path.
    pub(in crate::watcher) path: String,
    /// What the device must show, if anything.
    pub(in crate::watcher) key: Option<String>,
}

impl CallbackAt {
    /// Loopback, and any free port.
    pub(in crate::watcher) const LISTEN: SocketAddr =
        SocketAddr::V4(SocketAddrV4::new(Ipv4Addr::LOCALHOST, 0));
    /// The path where the file names none.
    pub(in crate::watcher) const PATH: &'static str = "/sightings";
}

/// A device on a weak connection may take this long for a request (own choice).
const READ_TIMEOUT: Duration = Duration::from_secs(10);
/// Longest body, bytes: as a line.
const BODY_LIMIT: usize = LINE_LIMIT;

/// Listens for what a device posts. Ends when dropped.
#[derive(Debug)]
pub(in crate::watcher) struct Callback {
    url: String,
    task: AbortOnDropHandle<()>,
}

impl Callback {
    /// Begins to listen.
    pub(in crate::watcher) async fn start(
        at: &CallbackAt,
        ear: Arc<Ear>,
    ) -> Result<Self, std::io::Error> {
        let listener = TcpListener::bind(at.listen).await?;
        let url = format!("http://{}{}", reached_at(listener.local_addr()?), at.path);
        let desk = Arc::new(Desk {
            at: at.clone(),
            ear,
        });
        let task = AbortOnDropHandle::new(tokio::spawn(accept(listener, desk)));
        Ok(Self { url, task })
    }

    /// Gives the address to post to.
    pub(in crate::watcher) fn url(&self) -> &str {
        &self.url
    }

    /// Ends, and waits until the port is free again.
    pub(in crate::watcher) async fn stop(self) {
        self.task.abort();
        let _ = self.task.await;
    }
}

/// Gives the address at which a command on this machine reaches a listener: one that listens
/// everywhere is no address to connect to (RFC 1122 section 3.2.1.3, RFC 4291 section 2.5.2).
fn reached_at(mut listening: SocketAddr) -> SocketAddr {
    if listening.ip().is_unspecified() {
        listening.set_ip(match listening.ip() {
            IpAddr::V4(_) => Ipv4Addr::LOCALHOST.into(),
            IpAddr::V6(_) => Ipv6Addr::LOCALHOST.into(),
        });
    }
    listening
}

async fn accept(listener: TcpListener, desk: Arc<Desk>) {
    // Dropped with this task: a device that stays connected does not keep a run alive.
    let mut connections = JoinSet::new();
    loop {
        tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((stream, _)) => {
                    let desk = Arc::clone(&desk);
                    let answer = service_fn(move |request| {
                        let desk = Arc::clone(&desk);
                        async move { Ok::<_, Infallible>(desk.answer(request).await) }
                    });
                    connections.spawn(async move {
                        // An error is the device's leaving or its bad HTTP.
                        let _ = http1::Builder::new()
                            .timer(TokioTimer::new())
                            .header_read_timeout(READ_TIMEOUT)
                            .serve_connection(TokioIo::new(stream), answer)
                            .await;
                    });
                }
                // Out of files for the moment.
                Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
            },
            Some(_) = connections.join_next() => {}
        }
    }
}

/// Answers requests.
struct Desk {
    at: CallbackAt,
    ear: Arc<Ear>,
}

type Answer = Response<Full<Bytes>>;

impl Desk {
    async fn answer(&self, request: Request<Incoming>) -> Answer {
        if request.uri().path() != self.at.path {
            let detail = format!("sightings are posted to {}", self.at.path);
            return problem(StatusCode::NOT_FOUND, &detail, None);
        }
        if request.method() != Method::POST {
            let allow = (ALLOW, HeaderValue::from_static("POST"));
            let detail = "sightings are posted";
            return problem(StatusCode::METHOD_NOT_ALLOWED, detail, Some(allow));
        }
        if !self.is_let_in(&request) {
            let challenge = (WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
            let detail = "the key of the watcher file is asked for";
            return problem(StatusCode::UNAUTHORIZED, detail, Some(challenge));
        }
        let body = Limited::new(request.into_body(), BODY_LIMIT).collect();
        let body = match tokio::time::timeout(READ_TIMEOUT, body).await {
            Ok(Ok(body)) => body.to_bytes(),
            Ok(Err(error)) if error.is::<LengthLimitError>() => {
                let detail = format!("a body has {BODY_LIMIT} bytes at most");
                return problem(StatusCode::PAYLOAD_TOO_LARGE, &detail, None);
            }
            Ok(Err(error)) => {
                return problem(StatusCode::BAD_REQUEST, &error.to_string(), None);
            }
            Err(_) => {
                let detail = "the body did not come in time";
                return problem(StatusCode::REQUEST_TIMEOUT, detail, None);
            }
        };
        match self.take(&body) {
            Ok(()) => {
                let mut answer = Response::new(Full::default());
                *answer.status_mut() = StatusCode::NO_CONTENT;
                answer
            }
            // RFC 9110 section 15.5.21: the content is understood as such, and makes no sense.
            Err(why) => problem(StatusCode::UNPROCESSABLE_ENTITY, &why, None),
        }
    }

    fn is_let_in(&self, request: &Request<Incoming>) -> bool {
        let Some(key) = &self.at.key else { return true };
        let shown = request.headers().get(AUTHORIZATION);
        let shown = shown.and_then(|value| value.to_str().ok()?.split_once(' '));
        shown.is_some_and(|(scheme, token)| {
            // RFC 9110 section 11.1: the scheme's letter case does not matter.
            scheme.eq_ignore_ascii_case("bearer")
                && bool::from(token.trim().as_bytes().ct_eq(key.as_bytes()))
        })
    }

    /// Takes a body: one JSON text, or lines. It is taken if one line of it is a sighting.
    fn take(&self, body: &[u8]) -> Result<(), String> {
        let mut understood = Err("the body is empty".to_owned());
        for line in lines(body) {
            let result = self.ear.sighting_line(false, line);
            if understood.is_err() {
                understood = result;
            }
        }
        understood
    }
}

/// Parts a body into lines. A JSON text over several lines is one.
fn lines(body: &[u8]) -> Vec<String> {
    let text = String::from_utf8_lossy(body);
    if let Ok(value @ Value::Object(_)) = serde_json::from_str(&text) {
        return vec![value.to_string()];
    }
    let lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    lines.map(str::to_owned).collect()
}

/// Writes an error (RFC 9457 section 3).
fn problem(status: StatusCode, detail: &str, field: Option<(HeaderName, HeaderValue)>) -> Answer {
    let body = json!({
        "title": status.canonical_reason(),
        "status": status.as_u16(),
        "detail": detail,
    });
    let mut answer = Response::new(Full::from(body.to_string()));
    *answer.status_mut() = status;
    let media_type = HeaderValue::from_static("application/problem+json");
    answer.headers_mut().insert(CONTENT_TYPE, media_type);
    answer.headers_mut().extend(field);
    answer
}
