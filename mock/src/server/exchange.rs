//! Answers one request.

use std::borrow::Cow;
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use axum::body::Body;
use axum::extract::{Extension, State};
use axum::response::Response;
use bytes::Bytes;
use http::header::{CONTENT_LENGTH, DATE, HOST};
use http::{HeaderMap, HeaderValue, Method, StatusCode, Version, request};
use http_body_util::{BodyExt, LengthLimitError, Limited};

use super::body::Tracked;
use super::connection::Connection;
use super::date::real_date;
use super::limits::{MAX_BODY_BYTES, READ_TIMEOUT};
use super::push::{self, PushBody};
use super::shared::Shared;
use super::{ExchangeId, WireEvent, fault_answer, target, wire_form};
use crate::dialect::{Answer, Dialect, HttpBehaviour, Matched, Problem, Request, Routed};
use crate::fault::{AnswerBytes, Cut, Effects, Ending, Position, Script};
use crate::sim::{Truth, VirtualTime};

/// Is what a request is answered with.
struct Reply {
    answer: Answer,
    truth: Arc<Truth>,
    /// The route to push, if the answer is the head of a stream.
    push: Option<Matched>,
    /// How long the client is let wait for it.
    after: Duration,
}

impl Reply {
    fn of(answer: Answer, truth: Arc<Truth>) -> Self {
        Self {
            answer,
            truth,
            push: None,
            after: Duration::ZERO,
        }
    }

    /// Is an answer that the printer had no part in.
    fn known(host: &Arc<Truth>, answer: Answer) -> Self {
        Self::of(answer, Arc::clone(host))
    }

    fn problem(dialect: &Dialect, host: &Arc<Truth>, problem: &Problem) -> Self {
        Self::known(host, dialect.problem(problem))
    }
}

/// Answers one request and tells the observer of both.
pub(super) async fn handle(
    State(shared): State<Arc<Shared>>,
    Extension(connection): Extension<Connection>,
    request: request::Request<Body>,
) -> Response {
    connection.control.request_begins();
    let (mut head, body) = request.into_parts();
    let body = read(&head.headers, body).await;
    // What is left of it cannot be told from a next request.
    let unread = body.is_err();
    let Some((now, host)) = connection.reaches_host(&shared).await else {
        // It restarts, or has restarted since the connection was made: nobody is there to carry a
        // command out or to answer, and nothing is sent that could be observed.
        return no_answer(&connection);
    };
    let exchange = shared.next_exchange();
    shared.wire.tell(|virtual_time| WireEvent::RequestReceived {
        virtual_time,
        connection: connection.id,
        exchange,
        method: head.method.clone(),
        target: head.uri.to_string(),
        headers: plain(&head.headers),
        body: body.as_ref().cloned().unwrap_or_default(),
    });
    shared.catch_up();
    let effects = connection.begin(&shared, exchange, &head);
    let dialect = Arc::clone(shared.dialects.spoken(&host.printer));
    let asked = Asked {
        now,
        host,
        head: &head,
        effects: &effects,
    };
    let mut reply = decide(&shared, &dialect, &asked, body);
    reply.after += effects.latency;
    let ready = ready(&shared, &connection, exchange, &dialect, &mut head, reply);
    match ready.await {
        Some(ready) => {
            let place = Place {
                shared: &shared,
                connection: &connection,
                exchange,
            };
            if ready.pushing {
                connection.meet_before(&shared);
            }
            // Faults may have come and gone while it waited.
            let effects = connection.effects().unwrap_or(effects);
            let response = place.send(&head, effects, ready);
            match unread {
                true => wire_form::last_of_connection(response),
                false => response,
            }
        }
        None => no_answer(&connection),
    }
}

/// Is a request at its moment.
struct Asked<'a> {
    now: VirtualTime,
    host: Arc<Truth>,
    head: &'a request::Parts,
    effects: &'a Effects,
}

/// Is where an answer goes.
struct Place<'a> {
    shared: &'a Shared,
    connection: &'a Connection,
    exchange: ExchangeId,
}

/// Is an answer whose time has come.
struct Ready<'d> {
    /// How the host speaks for this answer, drifts applied.
    http: Cow<'d, HttpBehaviour>,
    answer: Answer,
    truth: Arc<Truth>,
    /// What follows the head of a stream.
    stream: Option<PushBody>,
    /// Whether the answer has no end.
    pushing: bool,
    /// Whether its body may be compressed.
    can_be_coded: bool,
}

/// Waits for the moment of an answer; `None` when the host has gone meanwhile.
async fn ready<'d>(
    shared: &Arc<Shared>,
    connection: &Connection,
    exchange: ExchangeId,
    dialect: &'d Dialect,
    head: &mut request::Parts,
    reply: Reply,
) -> Option<Ready<'d>> {
    if !reply.after.is_zero() {
        tokio::time::sleep(reply.after).await;
        connection.reaches_host(shared).await?;
    }
    let http = dialect.http().drifted(shared.drifts.form());
    if let Some(matched) = reply.push {
        let answer = (reply.answer, reply.truth);
        let begun = push::begin(shared, connection, exchange, head, matched, answer).await?;
        return Some(Ready {
            http,
            answer: dialect.for_push_request(&request_of(head, b""), begun.answer),
            truth: begun.truth,
            stream: begun.events,
            pushing: begun.endless,
            can_be_coded: false,
        });
    }
    Some(Ready {
        answer: http.for_request(&request_of(head, b""), reply.answer),
        http,
        truth: reply.truth,
        stream: None,
        pushing: false,
        can_be_coded: true,
    })
}

impl Place<'_> {
    /// Sends an answer and tells the observer of it.
    fn send(&self, head: &request::Parts, effects: Effects, ready: Ready<'_>) -> Response {
        let Ready {
            http,
            answer,
            stream,
            ..
        } = ready;
        let connection = self.connection;
        let to_head = head.method == Method::HEAD;
        let bodiless = to_head && stream.is_none();
        tell(self.shared, self.exchange, &answer, ready.truth, bodiless);
        let wants_chunks = effects.script.cut == Some(Cut::NoLastChunk);
        let mut response = match stream {
            Some(stream) => streamed(answer, stream),
            None => {
                let answer = match ready.can_be_coded {
                    true => http.coded(&request_of(head, b""), answer),
                    false => answer,
                };
                wire_form::whole(&http, &head.method, head.version, wants_chunks, answer)
            }
        };
        wire_form::of_connection(&http, head.version, connection.next_answer(), &mut response);
        if let Some(ahead_s) = effects.ahead_s {
            let date = HeaderValue::try_from(httpdate::fmt_http_date(skewed(ahead_s)));
            let date = date.expect("a date is visible ASCII");
            response.headers_mut().insert(DATE, date);
        }
        if effects.without_notify {
            connection.control.close_without_notify();
            response = wire_form::last_of_connection(response);
        }
        let mut script = effects.script;
        script.field_case = self.shared.drifts.form().field_case;
        // A stream may meet a fault later, so its bytes are looked at from the beginning.
        let bytes =
            (ready.pushing || !script.is_plain()).then(|| AnswerBytes::new(script, to_head));
        connection.control.answer_begins(ready.pushing, bytes);
        let control = Arc::clone(&connection.control);
        response.map(|body| Body::new(Tracked::new(body, control)))
    }
}

/// Gives the real time of a clock that is so far ahead.
fn skewed(ahead_s: f64) -> SystemTime {
    let by = Duration::from_secs_f64(ahead_s.abs());
    match ahead_s >= 0.0 {
        true => real_date() + by,
        false => real_date() - by,
    }
}

/// Tells the observer of an answer.
fn tell(shared: &Shared, exchange: ExchangeId, answer: &Answer, truth: Arc<Truth>, bodiless: bool) {
    shared.wire.tell(|virtual_time| {
        let mut told = answer.clone();
        if bodiless {
            told = told.without_body();
        }
        WireEvent::AnswerSent {
            virtual_time,
            exchange,
            status: told.status,
            headers: plain(&told.headers),
            body: told.body,
            truth,
        }
    });
}

fn request_of<'a>(head: &'a request::Parts, body: &'a [u8]) -> Request<'a> {
    Request {
        method: &head.method,
        path: head.uri.path(),
        query: head.uri.query(),
        headers: &head.headers,
        body,
    }
}

/// Lets the connection be reset instead of answering.
fn no_answer(connection: &Connection) -> Response {
    let nothing = Script {
        cut: Some(Cut::At(Position::Start, Ending::Reset)),
        ..Script::default()
    };
    let bytes = AnswerBytes::new(nothing, false);
    connection.control.answer_begins(false, Some(bytes));
    Response::new(Body::empty())
}

/// Reads a request's body within the limits.
async fn read(headers: &HeaderMap, body: Body) -> Result<Bytes, Problem> {
    let too_large = || {
        let detail = format!("the body has more than {MAX_BODY_BYTES} bytes");
        Problem::new(StatusCode::PAYLOAD_TOO_LARGE, detail)
    };
    let announced = headers
        .get(CONTENT_LENGTH)
        .and_then(|length| length.to_str().ok()?.parse::<u64>().ok());
    if announced.is_some_and(|length| length > MAX_BODY_BYTES as u64) {
        return Err(too_large());
    }
    let whole = Limited::new(body, MAX_BODY_BYTES).collect();
    match tokio::time::timeout(READ_TIMEOUT, whole).await {
        Ok(Ok(body)) => Ok(body.to_bytes()),
        Ok(Err(error)) if error.is::<LengthLimitError>() => Err(too_large()),
        Ok(Err(_cut)) => Err(Problem::new(
            StatusCode::BAD_REQUEST,
            "the body is incomplete or badly chunked",
        )),
        Err(_elapsed) => Err(Problem::new(
            StatusCode::REQUEST_TIMEOUT,
            "the body did not come in",
        )),
    }
}

fn decide(
    shared: &Shared,
    dialect: &Dialect,
    asked: &Asked<'_>,
    body: Result<Bytes, Problem>,
) -> Reply {
    let answer = asked.effects.answer.as_ref();
    if let Some((_, scoped)) = answer
        && let Some(answer) = fault_answer::of(&scoped.fault, dialect, &asked.head.uri)
    {
        return Reply::known(&asked.host, answer);
    }
    match host_field(dialect, asked.head).and_then(|()| target::check(&asked.head.uri)) {
        Ok(()) => serve(shared, dialect, asked, body),
        Err(wrong) => Reply::problem(dialect, &asked.host, &wrong),
    }
}

/// Gives what the dialect and the printer say to a request.
fn serve(
    shared: &Shared,
    dialect: &Dialect,
    asked: &Asked<'_>,
    body: Result<Bytes, Problem>,
) -> Reply {
    let Asked {
        now, host, head, ..
    } = asked;
    let now = *now;
    let (body, wrong) = match body {
        Ok(body) => (body, None),
        Err(wrong) => (Bytes::new(), Some(wrong)),
    };
    let request = request_of(head, &body);
    let mut printer = shared.printer();
    let mut access = printer.access(dialect, &request, shared.key.as_deref(), host);
    access.key_is_good &= !asked.effects.key_revoked;
    let routed = dialect.route(&request, &access);
    // Who has no business here is told so before anything about the body.
    if let Some(wrong) = wrong.filter(|_| !matches!(routed, Routed::Answer(_))) {
        return Reply::problem(dialect, host, &wrong);
    }
    let problem = |problem: &Problem| Reply::problem(dialect, host, problem);
    let (matched, (answer, truth)) = match routed {
        Routed::Answer(answer) => return Reply::known(host, answer),
        Routed::Body(matched) => {
            let old = asked.effects.answer.as_ref();
            let shown = match old {
                Some((id, old)) => printer.old_answer(now, &matched, (*id, &old.fault)),
                None => printer.answer(now, &matched),
            };
            (matched, shown)
        }
        Routed::Command(matched) => match dialect.order(&matched, &request, host) {
            Ok(order) => {
                let done = printer.command(now, &matched, order);
                (matched, done)
            }
            Err(wrong) => return problem(&wrong),
        },
        Routed::LogIn(matched) => match dialect.log_in(&matched, &request, host, &access) {
            Ok(key) => {
                let done = printer.log_in(now, &matched, &key);
                (matched, done)
            }
            Err(wrong) => return problem(&wrong),
        },
        Routed::LogOut(matched) => {
            let done = printer.log_out(now, &matched, &request);
            (matched, done)
        }
        Routed::Push(matched) => {
            let (answer, truth) = printer.answer(now, &matched);
            if answer.status.is_success() {
                return Reply {
                    push: Some(matched.clone()),
                    ..Reply::of(dialect.push_answer(matched.route), truth)
                };
            }
            (matched, (answer, truth))
        }
    };
    Reply {
        after: dialect.answer_after(matched.route),
        ..Reply::of(answer, truth)
    }
}

/// Checks the `Host` field of an HTTP/1.1 request.
///
/// # Source
/// RFC 9112 section 3.2: 400 for none and for more than one.
fn host_field(dialect: &Dialect, head: &request::Parts) -> Result<(), Problem> {
    let count = head.headers.get_all(HOST).iter().count();
    if dialect.http().host_field() && head.version == Version::HTTP_11 && count != 1 {
        let detail = format!("the request has {count} Host fields and needs one");
        return Err(Problem::new(StatusCode::BAD_REQUEST, detail));
    }
    Ok(())
}

fn streamed(answer: Answer, stream: PushBody) -> Response {
    let mut response = Response::new(Body::new(stream));
    *response.status_mut() = answer.status;
    *response.headers_mut() = answer.headers;
    response
}

/// Gives fields as text, names in lower case.
fn plain(headers: &HeaderMap) -> Vec<(String, String)> {
    headers
        .iter()
        .map(|(name, value)| {
            let value = String::from_utf8_lossy(value.as_bytes()).into_owned();
            (name.as_str().to_owned(), value)
        })
        .collect()
}
