//! Paths that only lead elsewhere, as written -> checked [`Redirect`]s.

use crate::dialect::file::Spanned;
use http::{HeaderValue, Method, StatusCode, Uri};

use super::reader::Reader;
use super::route::METHODS;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file;
use crate::dialect::redirect::Redirect;
use crate::dialect::route::Route;

/// The status codes that lead elsewhere by `Location` (RFC 9110 section 15.4).
const STATUSES: [u16; 5] = [301, 302, 303, 307, 308];

/// Checks `[[redirects]]`.
///
/// # Errors
/// The first thing that is wrong with them.
pub(super) fn check(
    reader: &Reader<'_>,
    raw: &[file::Redirect],
    routes: &[Route],
) -> Result<Vec<Redirect>, DialectError> {
    let mut checked: Vec<Redirect> = Vec::new();
    for (index, raw) in raw.iter().enumerate() {
        let field = format!("redirects[{index}]");
        let redirect = one(reader, &field, raw)?;
        let taken = |path: &str, method: Option<&Method>| {
            let same = |method: &Method| redirect.method.as_ref().is_none_or(|own| own == method);
            path == redirect.path && method.is_none_or(same)
        };
        let twice = checked
            .iter()
            .any(|known| taken(&known.path, known.method.as_ref()));
        let route = routes
            .iter()
            .find(|route| taken(&route.path, Some(&route.method)));
        let message = match (twice, route) {
            (true, _) => format!("{} leads elsewhere twice", redirect.path),
            (false, Some(route)) => {
                format!("{} {} is a route already", route.method, route.path)
            }
            (false, None) => {
                checked.push(redirect);
                continue;
            }
        };
        let problem = DialectProblem::Conflict { message };
        return Err(reader.error(raw.path.span().start, &format!("{field}.path"), problem));
    }
    Ok(checked)
}

fn one(reader: &Reader<'_>, field: &str, raw: &file::Redirect) -> Result<Redirect, DialectError> {
    let path = raw.path.get_ref();
    let plain = |byte: u8| byte.is_ascii_graphic() && !matches!(byte, b'?' | b'#' | b'{' | b'}');
    if !path.starts_with('/') || !path.bytes().all(plain) {
        let allowed = "a path: it begins with `/` and has neither spaces nor `?`, `#`, `{` or `}`";
        return Err(reader.not_allowed(&format!("{field}.path"), &raw.path, allowed, &[]));
    }
    let method = match &raw.method {
        None => None,
        Some(method) if METHODS.contains(&method.get_ref().as_str()) => {
            Method::from_bytes(method.get_ref().as_bytes()).ok()
        }
        Some(method) => {
            let allowed = "one of GET, POST, PUT, PATCH, DELETE (HEAD follows from GET)";
            let field = format!("{field}.method");
            return Err(reader.not_allowed(&field, method, allowed, &METHODS));
        }
    };
    Ok(Redirect {
        path: path.clone(),
        method,
        status: status(reader, field, raw.status.as_ref())?,
        location: location(reader, field, raw)?,
    })
}

fn status(
    reader: &Reader<'_>,
    field: &str,
    raw: Option<&Spanned<u16>>,
) -> Result<StatusCode, DialectError> {
    let Some(raw) = raw else {
        return Ok(StatusCode::FOUND);
    };
    match StatusCode::from_u16(*raw.get_ref()) {
        Ok(status) if STATUSES.contains(&status.as_u16()) => Ok(status),
        _ => Err(reader.bad_number(
            &format!("{field}.status"),
            raw,
            "one of 301, 302, 303, 307, 308 (RFC 9110 section 15.4)",
        )),
    }
}

/// Checks where it leads.
///
/// # Source
/// RFC 9110 section 10.2.2: `Location` is a URI reference; of its forms a path and an absolute
/// `http` or `https` URI are taken.
fn location(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Redirect,
) -> Result<HeaderValue, DialectError> {
    let to = raw.to.get_ref();
    let is_path = to.starts_with('/') && !to.starts_with("//");
    let is_url = to.parse::<Uri>().is_ok_and(|uri| {
        matches!(uri.scheme_str(), Some("http" | "https")) && uri.authority().is_some()
    });
    let good = (is_path || is_url) && to.bytes().all(|byte| byte.is_ascii_graphic());
    let field = format!("{field}.to");
    if !good {
        let allowed = "a path (`/…`) or an absolute `http` or `https` URL, percent-encoded";
        return Err(reader.not_allowed(&field, &raw.to, allowed, &[]));
    }
    reader.header_value(&field, Some(&raw.to), "")
}
