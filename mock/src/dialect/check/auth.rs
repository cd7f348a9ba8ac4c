//! How a host asks for its key, as written -> checked [`AuthScheme`].

use http::{HeaderName, StatusCode};

use super::reader::Reader;
use crate::dialect::Dialect;
use crate::dialect::auth::{self, AuthScheme};
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Layer, Spanned, Text};
use crate::dialect::route::RouteKind;

/// The schemes' names in a file.
pub(in crate::dialect) const NAMES: [&str; 7] = [
    "none",
    "bearer",
    "basic",
    "header",
    "query",
    "session-cookie",
    "session-token",
];

/// What `Set-Cookie` says after the value unless the file says otherwise.
///
/// `HttpOnly` and `SameSite` as a careful host would have them (RFC 6265 section 4.1.2.6; the
/// latter is common practice).
const COOKIE_ATTRIBUTES: &str = "Path=/; HttpOnly; SameSite=Lax";

/// Checks the table; gives the status in the place of 401 too, if there is one.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    layer: &Layer<&file::Auth>,
) -> Result<(AuthScheme, Option<StatusCode>), DialectError> {
    let table = Table {
        reader,
        field: &layer.field,
        raw: layer.written,
    };
    let raw = layer.written;
    let scheme = match raw.scheme.get_ref().as_str() {
        "none" => {
            table.only(&[])?;
            AuthScheme::None
        }
        "bearer" => {
            table.only(&["realm"])?;
            let realm = table.realm()?;
            AuthScheme::Bearer { realm }
        }
        "basic" => {
            table.only(&["realm", "user"])?;
            AuthScheme::Basic {
                realm: table.realm()?,
                user: table.user(true)?,
            }
        }
        "header" => {
            table.only(&["header", "prefix"])?;
            AuthScheme::Header {
                name: table.header()?,
                prefix: table.prefix(),
            }
        }
        "query" => {
            table.only(&["parameter"])?;
            let parameter = table.needed(raw.parameter.as_ref(), "`parameter`")?;
            AuthScheme::Query {
                parameter: parameter.get_ref().clone(),
            }
        }
        "session-cookie" => {
            table.only(&["cookie", "cookie-attributes", "user", "idle-s"])?;
            AuthScheme::SessionCookie {
                cookie: table.cookie()?,
                attributes: table.cookie_attributes()?,
                user: table.user(false)?,
                idle_s: raw.idle_s.as_ref().map(|idle| *idle.get_ref()),
            }
        }
        "session-token" => {
            table.only(&["header", "prefix", "user", "idle-s"])?;
            AuthScheme::SessionToken {
                name: table.header()?,
                prefix: table.prefix(),
                user: table.user(false)?,
                idle_s: raw.idle_s.as_ref().map(|idle| *idle.get_ref()),
            }
        }
        _ => {
            let allowed = format!("one of {}", NAMES.join(", "));
            let field = format!("{}.scheme", layer.field);
            return Err(reader.not_allowed(&field, &raw.scheme, &allowed, &NAMES));
        }
    };
    Ok((scheme, table.status()?))
}

/// Checks that there is a log-in call exactly where the scheme needs one.
///
/// # Errors
/// There is none, or one too many.
pub(super) fn check_log_in(
    reader: &Reader<'_>,
    layer: &Layer<&file::Auth>,
    dialect: &Dialect,
) -> Result<(), DialectError> {
    let start = layer.written.scheme.span().start;
    let is_log_in = |kind: &RouteKind| matches!(kind, RouteKind::LogIn(_));
    let has_one = dialect.routes.iter().any(|route| is_log_in(&route.kind));
    let problem = match (dialect.auth.has_log_in(), has_one) {
        (true, false) => DialectProblem::Missing {
            what: "a route with `log-in`",
        },
        (false, true) => DialectProblem::Both {
            one: "a route with `log-in`",
            other: "a scheme without log-ins",
        },
        _ => return Ok(()),
    };
    Err(reader.error(start, &format!("{}.scheme", layer.field), problem))
}

struct Table<'a> {
    reader: &'a Reader<'a>,
    field: &'a str,
    raw: &'a file::Auth,
}

impl Table<'_> {
    /// Checks that there is no key that belongs to another scheme.
    fn only(&self, own: &[&str]) -> Result<(), DialectError> {
        let raw = self.raw;
        let start = |text: &Option<Text>| text.as_ref().map(|text| text.span().start);
        let keys = [
            ("realm", start(&raw.realm)),
            ("user", start(&raw.user)),
            ("header", start(&raw.header)),
            ("prefix", start(&raw.prefix)),
            ("parameter", start(&raw.parameter)),
            ("cookie", start(&raw.cookie)),
            ("cookie-attributes", start(&raw.cookie_attributes)),
            ("idle-s", raw.idle_s.as_ref().map(|idle| idle.span().start)),
        ];
        for (name, start) in keys {
            let Some(start) = start.filter(|_| !own.contains(&name)) else {
                continue;
            };
            let scheme = raw.scheme.get_ref();
            let problem = DialectProblem::NotAllowed {
                value: name.to_owned(),
                allowed: match own {
                    [] => format!("a key of scheme `{scheme}`, which has none but `status`"),
                    own => format!("a key of scheme `{scheme}` ({})", own.join(", ")),
                },
                hint: None,
            };
            let field = format!("{}.{name}", self.field);
            return Err(self.reader.error(start, &field, problem));
        }
        Ok(())
    }

    fn needed<'t>(
        &self,
        text: Option<&'t Text>,
        what: &'static str,
    ) -> Result<&'t Text, DialectError> {
        text.ok_or_else(|| {
            let start = self.raw.scheme.span().start;
            let problem = DialectProblem::Missing { what };
            self.reader.error(start, self.field, problem)
        })
    }

    fn allowed_if(
        &self,
        name: &str,
        text: &Text,
        good: bool,
        allowed: &str,
    ) -> Result<String, DialectError> {
        if good {
            return Ok(text.get_ref().clone());
        }
        let field = format!("{}.{name}", self.field);
        Err(self.reader.not_allowed(&field, text, allowed, &[]))
    }

    fn realm(&self) -> Result<String, DialectError> {
        let realm = self.needed(self.raw.realm.as_ref(), "`realm`")?;
        let good = auth::is_realm(realm.get_ref());
        self.allowed_if("realm", realm, good, "visible ASCII without \" and \\")
    }

    /// A colon ends the name in basic credentials (RFC 7617 section 2).
    fn user(&self, ends_at_colon: bool) -> Result<Option<String>, DialectError> {
        let Some(user) = &self.raw.user else {
            return Ok(None);
        };
        let text = user.get_ref();
        let ends_early = ends_at_colon && text.contains(':');
        let good = !ends_early && !text.contains(char::is_control);
        let allowed = "a user's name: no control characters, and no colon with scheme `basic`";
        self.allowed_if("user", user, good, allowed).map(Some)
    }

    fn header(&self) -> Result<HeaderName, DialectError> {
        let header = self.needed(self.raw.header.as_ref(), "`header`")?;
        let field = format!("{}.header", self.field);
        self.reader
            .header_name(&field, header.get_ref(), header.span().start)
    }

    fn prefix(&self) -> String {
        let prefix = self.raw.prefix.as_ref();
        prefix.map_or_else(String::new, |prefix| prefix.get_ref().clone())
    }

    /// A cookie's name is a token (RFC 6265 section 4.1.1), as are names of header fields.
    fn cookie(&self) -> Result<String, DialectError> {
        let cookie = self.needed(self.raw.cookie.as_ref(), "`cookie`")?;
        let good = HeaderName::try_from(cookie.get_ref()).is_ok();
        self.allowed_if("cookie", cookie, good, "a token (RFC 6265 section 4.1.1)")
    }

    fn cookie_attributes(&self) -> Result<String, DialectError> {
        let Some(text) = &self.raw.cookie_attributes else {
            return Ok(COOKIE_ATTRIBUTES.to_owned());
        };
        let visible = |byte: u8| (b' '..=b'~').contains(&byte);
        let good = text.get_ref().bytes().all(visible);
        self.allowed_if("cookie-attributes", text, good, "visible ASCII")
    }

    fn status(&self) -> Result<Option<StatusCode>, DialectError> {
        let Some(status) = &self.raw.status else {
            return Ok(None);
        };
        error_status(self.reader, &format!("{}.status", self.field), status).map(Some)
    }
}

/// Reads the status of a refusal: hosts say 403 or 404 too, and some 200.
///
/// # Errors
/// It is no final status (RFC 9110 section 15).
pub(super) fn error_status(
    reader: &Reader<'_>,
    field: &str,
    status: &Spanned<u16>,
) -> Result<StatusCode, DialectError> {
    match StatusCode::from_u16(*status.get_ref()) {
        Ok(code) if (200..600).contains(&code.as_u16()) => Ok(code),
        _ => {
            let allowed = "a final status, 200 to 599 (RFC 9110 section 15)";
            Err(reader.bad_number(field, status, allowed))
        }
    }
}
