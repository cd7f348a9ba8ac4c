//! One route as written -> checked [`Route`].

use http::{Method, StatusCode};
use toml::Spanned;

use super::reader::Reader;
use super::{command, push};
use crate::dialect::body::{Phrase, Piece};
use crate::dialect::compile::Compiler;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file;
use crate::dialect::route::{Route, RouteId, RouteKind};
use crate::dialect::router::Router;

/// The methods a route may have; HEAD and OPTIONS are served by themselves.
const METHODS: [&str; 5] = ["GET", "POST", "PUT", "PATCH", "DELETE"];

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
    body_fits(reader, field, start, raw, status)?;
    let place = |name: &str| format!("{field}.{name}");
    let kind = kind(reader, field, raw)?;
    let default_type = match kind {
        RouteKind::Push(_) => "text/event-stream",
        RouteKind::Body | RouteKind::Command(_) => "application/json",
    };
    Ok(Route {
        method: Method::from_bytes(method.as_bytes()).unwrap_or_default(),
        path: raw.path.get_ref().clone(),
        status,
        content_type: reader.header_value(
            &place("content-type"),
            raw.content_type.as_ref(),
            default_type,
        )?,
        headers: reader.headers(&place("headers"), &raw.headers)?,
        exists: match &raw.exists {
            Some(text) => Some(reader.located(reader.source(&place("exists"), text).expression())?),
            None => None,
        },
        missing: match &raw.missing {
            Some(text) => reader.located(reader.source(&place("missing"), text).phrase())?,
            None => Phrase(vec![Piece::Plain("there is no such thing now".to_owned())]),
        },
        body: match &raw.body {
            Some(text) => {
                Some(reader.located(compiler.compile(&reader.source(&place("body"), text)))?)
            }
            None => None,
        },
        kind,
    })
}

/// Checks that there is a body exactly where the status has one.
///
/// # Source
/// RFC 9110 section 15.3.5 (204) and section 15.3.6 (205).
fn body_fits(
    reader: &Reader<'_>,
    field: &str,
    start: usize,
    raw: &file::Route,
    status: StatusCode,
) -> Result<(), DialectError> {
    let bodiless = status == StatusCode::NO_CONTENT || status == StatusCode::RESET_CONTENT;
    match &raw.body {
        None if !bodiless => {
            Err(reader.error(start, field, DialectProblem::Missing { what: "`body`" }))
        }
        Some(body) if bodiless => {
            let problem = DialectProblem::Both {
                one: "a body",
                other: "a status that has none",
            };
            Err(reader.error(body.span().start, field, problem))
        }
        _ => Ok(()),
    }
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
        let allowed = "a path: it begins with `/` and has neither spaces nor `?` nor `#`";
        return Err(reader.not_allowed(&field, path, allowed, &[]));
    }
    let index = RouteId(router.len());
    router
        .add(path.get_ref(), route.method.clone(), index)
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
        _ => Err(reader.error(
            status.span().start,
            &format!("{field}.status"),
            DialectProblem::NotAllowed {
                value: status.get_ref().to_string(),
                allowed: "a success, 200 to 299 (other answers are problems or faults)".to_owned(),
                hint: None,
            },
        )),
    }
}

fn kind(reader: &Reader<'_>, field: &str, raw: &file::Route) -> Result<RouteKind, DialectError> {
    if let Some(arguments) = &raw.arguments
        && raw.command.is_none()
    {
        let problem = DialectProblem::Missing { what: "`command`" };
        return Err(reader.error(arguments.span().start, field, problem));
    }
    match (&raw.command, &raw.push) {
        (None, None) => Ok(RouteKind::Body),
        (Some(command), None) => {
            command::check(reader, field, raw, command).map(RouteKind::Command)
        }
        (None, Some(push)) => push::check(reader, field, raw, push).map(RouteKind::Push),
        (Some(_), Some(push)) => Err(reader.error(
            push.span().start,
            field,
            DialectProblem::Both {
                one: "`command`",
                other: "`push`",
            },
        )),
    }
}
