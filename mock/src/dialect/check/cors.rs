//! What scripts of other origins may do, as written -> checked [`Cors`].

use http::{HeaderName, HeaderValue, Uri};

use super::reader::Reader;
use crate::dialect::cors::{Cors, Origins};
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Text};

/// How long an answer to a preflight may be kept, unless the file says otherwise, in seconds.
/// Chosen: long enough to be seen to be kept, short enough to be forgotten between two tries.
const MAX_AGE_S: u64 = 600;

/// The methods that can be named; GET, HEAD and POST need no naming in some cases but may be.
const METHODS: [&str; 8] = [
    "GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "*",
];

/// Checks `[http.cors]`.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(reader: &Reader<'_>, raw: &file::Cors) -> Result<Cors, DialectError> {
    let origins = origins(reader, raw.origins.as_deref())?;
    let is_method = |text: &str| METHODS.contains(&text);
    let is_name = |text: &str| HeaderName::try_from(text).is_ok();
    let method = "one of GET, HEAD, POST, PUT, PATCH, DELETE, OPTIONS or `*`";
    let name = "a header field's name (RFC 9110 section 5.1) or `*`";
    let checked = Cors {
        headers: list(
            reader,
            ("http.cors.headers", name),
            raw.headers.as_deref(),
            Some("Authorization"),
            is_name,
        )?,
        methods: list(
            reader,
            ("http.cors.methods", method),
            raw.methods.as_deref(),
            None,
            is_method,
        )?,
        expose: list(
            reader,
            ("http.cors.expose", name),
            raw.expose.as_deref(),
            Some("ETag"),
            is_name,
        )?,
        credentials: raw.credentials.as_ref().is_some_and(|yes| *yes.get_ref()),
        max_age_s: reader
            .within_if_there(
                "http.cors.max-age-s",
                raw.max_age_s.as_ref(),
                0..=86_400,
                "s",
            )?
            .unwrap_or(MAX_AGE_S),
        origins,
    };
    no_star_with_credentials(reader, raw, &checked)?;
    Ok(checked)
}

fn origins(reader: &Reader<'_>, raw: Option<&[Text]>) -> Result<Origins, DialectError> {
    let field = "http.cors.origins";
    let Some(raw) = raw else {
        return Ok(Origins::Any);
    };
    let mut list = Vec::new();
    for origin in raw {
        match origin.get_ref().as_str() {
            "*" if raw.len() == 1 => return Ok(Origins::Any),
            "*" => {
                let problem = DialectProblem::Both {
                    one: "`*`",
                    other: "a list of origins",
                };
                return Err(reader.error(origin.span().start, field, problem));
            }
            text if is_origin(text) => list.push(reader.header_value(field, Some(origin), "")?),
            _ => {
                let allowed = "`*`, `null` or an origin as browsers write it: scheme, host, port \
                               unless it is the scheme's own, such as `http://panel.test:8080`";
                return Err(reader.not_allowed(field, origin, allowed, &[]));
            }
        }
    }
    Ok(Origins::These(list))
}

/// Tells whether text is an origin in the one form that browsers send.
///
/// # Source
/// WHATWG HTML, "Origin" (its serialisation); RFC 6454 section 6.2.
fn is_origin(text: &str) -> bool {
    if text == "null" {
        return true;
    }
    let Ok(uri) = text.parse::<Uri>() else {
        return false;
    };
    let (Some(scheme), Some(authority)) = (uri.scheme_str(), uri.authority()) else {
        return false;
    };
    let own_port = match scheme {
        "http" => Some(80),
        "https" => Some(443),
        _ => None,
    };
    let port = authority.port_u16();
    format!("{scheme}://{authority}") == text
        && text == text.to_ascii_lowercase()
        && !authority.as_str().contains('@')
        && (port.is_none() || port != own_port)
}

/// Gives the value of a field that lists names; `None` for an empty list.
fn list(
    reader: &Reader<'_>,
    (field, allowed): (&str, &str),
    raw: Option<&[Text]>,
    default: Option<&'static str>,
    is_good: impl Fn(&str) -> bool,
) -> Result<Option<HeaderValue>, DialectError> {
    let Some(raw) = raw else {
        return Ok(default.map(HeaderValue::from_static));
    };
    for text in raw {
        if !is_good(text.get_ref()) {
            return Err(reader.not_allowed(field, text, allowed, &METHODS));
        }
    }
    let names: Vec<&str> = raw.iter().map(|text| text.get_ref().as_str()).collect();
    // Names are tokens, and so is every list of them a value.
    Ok((!names.is_empty())
        .then(|| HeaderValue::try_from(names.join(", ")).ok())
        .flatten())
}

/// Checks that `*` does not stand beside credentials, where it means nothing.
///
/// # Source
/// WHATWG Fetch, "CORS protocol and credentials".
fn no_star_with_credentials(
    reader: &Reader<'_>,
    raw: &file::Cors,
    checked: &Cors,
) -> Result<(), DialectError> {
    let Some(credentials) = raw.credentials.as_ref().filter(|yes| *yes.get_ref()) else {
        return Ok(());
    };
    let has_star = |list: &Option<Vec<Text>>| {
        let list = list.iter().flatten();
        list.into_iter().any(|text| text.get_ref() == "*")
    };
    if checked.origins != Origins::Any
        && !has_star(&raw.headers)
        && !has_star(&raw.methods)
        && !has_star(&raw.expose)
    {
        return Ok(());
    }
    let problem = DialectProblem::Both {
        one: "`credentials = true`",
        other: "`*` (a browser does not let it pass: name the origins, methods and fields)",
    };
    Err(reader.error(credentials.span().start, "http.cors.credentials", problem))
}
