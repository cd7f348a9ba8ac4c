//! One route as written -> checked [`Route`].

use std::time::Duration;

use http::{HeaderMap, HeaderName, Method, StatusCode};
use indexmap::IndexMap;

use super::auth::error_status;
use super::reader::Reader;
use super::{argument, content, order, push};
use crate::dialect::body::{Phrase, Piece};
use crate::dialect::compile::Compiler;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Spanned, Text};
use crate::dialect::route::{
    Condition, ContentTemplate, LogInTemplate, QueryParameter, Route, RouteId, RouteKind,
};
use crate::dialect::router::Router;
use crate::pointer::is_pointer;

/// The methods a route may have; HEAD and OPTIONS are served by themselves.
pub(in crate::dialect) const METHODS: [&str; 5] = ["GET", "POST", "PUT", "PATCH", "DELETE"];

/// The longest a client may be let wait for an answer: ten minutes, longer than any client waits.
const MOST_ANSWER_AFTER_MS: u64 = 600_000;

/// Checks one route.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    field: &str,
    raw: &Spanned<file::Route>,
    compiler: &mut Compiler<'_>,
) -> Result<Route, DialectError> {
    let start = raw.span().start;
    let raw = raw.get_ref();
    let method = raw.method.get_ref().as_str();
    if !METHODS.contains(&method) {
        let allowed = "one of GET, POST, PUT, PATCH, DELETE (HEAD and OPTIONS follow from them)";
        return Err(reader.not_allowed(&format!("{field}.method"), &raw.method, allowed, &METHODS));
    }
    let status = status(reader, field, raw)?;
    let content = content::check(reader, field, start, raw, status, compiler)?;
    let place = |name: &str| format!("{field}.{name}");
    let kind = kind(reader, field, raw, compiler)?;
    let default_type = match (&kind, &content) {
        (RouteKind::Push(plan), _) => plan.content_type(),
        (_, Some(ContentTemplate::Text(_))) => "text/plain; charset=utf-8",
        (_, Some(ContentTemplate::Bytes(_))) => "application/octet-stream",
        _ => "application/json",
    };
    let (headers, live_headers) = headers(reader, &place("headers"), &raw.headers)?;
    Ok(Route {
        method: Method::from_bytes(method.as_bytes()).unwrap_or_default(),
        path: raw.path.get_ref().clone(),
        condition: condition(reader, &place("match"), raw)?,
        query: query(reader, &place("query"), &raw.query)?,
        // Whoever logs in has nothing to show yet.
        open: raw.open || matches!(kind, RouteKind::LogIn(_)),
        summary: raw.summary.as_ref().map(|text| text.get_ref().clone()),
        status,
        content_type: reader.header_value(
            &place("content-type"),
            raw.content_type.as_ref(),
            default_type,
        )?,
        headers,
        live_headers,
        exists: match &raw.exists {
            Some(text) => Some(reader.located(reader.source(&place("exists"), text).expression())?),
            None => None,
        },
        missing: match &raw.missing {
            Some(text) => reader.located(reader.source(&place("missing"), text).phrase())?,
            None => Phrase(vec![Piece::Plain("there is no such thing now".to_owned())]),
        },
        missing_status: match &raw.missing_status {
            Some(status) => error_status(reader, &place("missing-status"), status)?,
            None => StatusCode::NOT_FOUND,
        },
        content,
        answer_after: reader
            .within_if_there(
                &place("answer-after-ms"),
                raw.answer_after_ms.as_ref(),
                0..=MOST_ANSWER_AFTER_MS,
                "ms",
            )?
            .map_or(Duration::ZERO, Duration::from_millis),
        kind,
    })
}

/// Adds a checked route to the router.
///
/// # Errors
/// Its path is malformed or taken.
pub(super) fn add(
    reader: &Reader<'_>,
    field: &str,
    raw: &Spanned<file::Route>,
    route: &Route,
    router: &mut Router,
) -> Result<(), DialectError> {
    let path = &raw.get_ref().path;
    let field = format!("{field}.path");
    let plain = |byte: u8| byte.is_ascii_graphic() && !matches!(byte, b'?' | b'#');
    if !path.get_ref().starts_with('/') || !path.get_ref().bytes().all(plain) {
        let allowed = "a path: it begins with `/` and has neither spaces nor `?` nor `#` (what \
                       follows a `?` goes into `match` or `query`)";
        return Err(reader.not_allowed(&field, path, allowed, &[]));
    }
    let index = RouteId(router.len());
    let condition = route.condition.clone();
    router
        .add(path.get_ref(), route.method.clone(), condition, index)
        .map_err(|message| {
            let problem = DialectProblem::Conflict { message };
            reader.error(path.span().start, &field, problem)
        })
}

fn status(reader: &Reader<'_>, field: &str, raw: &file::Route) -> Result<StatusCode, DialectError> {
    let Some(status) = &raw.status else {
        return Ok(StatusCode::OK);
    };
    match StatusCode::from_u16(*status.get_ref()) {
        Ok(code) if code.is_success() => Ok(code),
        _ => Err(reader.bad_number(
            &format!("{field}.status"),
            status,
            "a success, 200 to 299 (other answers are problems or faults)",
        )),
    }
}

fn condition(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
) -> Result<Condition, DialectError> {
    let Some(matches) = &raw.matches else {
        return Ok(Condition::default());
    };
    let mut body = Vec::new();
    for (pointer, value) in &matches.get_ref().body {
        if !is_pointer(pointer) {
            let problem = DialectProblem::NotAllowed {
                value: pointer.clone(),
                allowed: argument::POINTER.to_owned(),
                hint: None,
            };
            return Err(reader.error(matches.span().start, &format!("{field}.body"), problem));
        }
        let value = serde_json::to_value(value).unwrap_or_default();
        body.push((pointer.clone(), value));
    }
    if body.is_empty() && matches.get_ref().query.is_empty() {
        let problem = DialectProblem::OneOf {
            choices: "`query`, `body` (or both)",
        };
        return Err(reader.error(matches.span().start, field, problem));
    }
    let query = matches.get_ref().query.iter();
    Ok(Condition {
        query: query
            .map(|(name, value)| (name.clone(), value.clone()))
            .collect(),
        body,
    })
}

fn query(
    reader: &Reader<'_>,
    field: &str,
    raw: &IndexMap<String, Spanned<file::QueryParameter>>,
) -> Result<Vec<QueryParameter>, DialectError> {
    let mut query = Vec::new();
    for (name, parameter) in raw {
        let start = parameter.span().start;
        let parameter = parameter.get_ref();
        let field = format!("{field}.{name}");
        if parameter.required && parameter.default.is_some() {
            let problem = DialectProblem::Both {
                one: "`required`",
                other: "a default",
            };
            return Err(reader.error(start, &field, problem));
        }
        let one_of = parameter.one_of.clone().unwrap_or_default();
        if let Some(default) = &parameter.default
            && parameter.one_of.is_some()
            && !one_of.contains(default)
        {
            let problem = DialectProblem::NotAllowed {
                value: default.clone(),
                allowed: format!("one of {}", one_of.join(", ")),
                hint: None,
            };
            return Err(reader.error(start, &format!("{field}.default"), problem));
        }
        query.push(QueryParameter {
            name: name.clone(),
            default: parameter.default.clone(),
            required: parameter.required,
            one_of,
        });
    }
    Ok(query)
}

type LiveHeaders = Vec<(HeaderName, Phrase)>;

/// Takes the header fields with expressions in them apart from the fixed ones.
fn headers(
    reader: &Reader<'_>,
    field: &str,
    raw: &IndexMap<String, Text>,
) -> Result<(HeaderMap, LiveHeaders), DialectError> {
    let (live, fixed): (Vec<_>, Vec<_>) = raw
        .iter()
        .partition(|(_, value)| value.get_ref().contains("{{"));
    let fixed: IndexMap<String, Text> = fixed
        .into_iter()
        .map(|(name, value)| (name.clone(), value.clone()))
        .collect();
    let mut phrases = Vec::new();
    for (name, value) in live {
        let field = format!("{field}.{name}");
        let header = reader.header_name(&field, name, value.span().start)?;
        phrases.push((
            header,
            reader.located(reader.source(&field, value).phrase())?,
        ));
    }
    Ok((reader.headers(field, &fixed)?, phrases))
}

fn kind(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
    compiler: &mut Compiler<'_>,
) -> Result<RouteKind, DialectError> {
    if raw.command.is_none() {
        order::none(reader, field, raw)?;
    }
    let kinds = [
        (
            "`command`",
            raw.command.as_ref().map(|text| text.span().start),
        ),
        ("`push`", raw.push.as_ref().map(|push| push.span().start)),
        (
            "`log-in`",
            raw.log_in.as_ref().map(|table| table.span().start),
        ),
        ("`log-out`", raw.log_out.then(|| raw.method.span().start)),
    ];
    let mut given = kinds
        .into_iter()
        .filter_map(|(name, start)| Some((name, start?)));
    if let (Some((one, _)), Some((other, start))) = (given.next(), given.next()) {
        return Err(reader.error(start, field, DialectProblem::Both { one, other }));
    }
    if let Some(command) = &raw.command {
        let order = order::check(reader, field, raw, command, compiler)?;
        return Ok(RouteKind::Command(Box::new(order)));
    }
    if let Some(push) = &raw.push {
        return push::check(reader, field, raw, push).map(RouteKind::Push);
    }
    if let Some(log_in) = &raw.log_in {
        let table = log_in.get_ref();
        let path = raw.path.get_ref();
        let key = format!("{field}.log-in.key");
        let user = format!("{field}.log-in.user");
        return Ok(RouteKind::LogIn(Box::new(LogInTemplate {
            key: argument::place(reader, &key, &table.key, path)?,
            user: table
                .user
                .as_ref()
                .map(|argument| argument::place(reader, &user, argument, path))
                .transpose()?,
        })));
    }
    Ok(if raw.log_out {
        RouteKind::LogOut
    } else {
        RouteKind::Body
    })
}
