//! How a host asks for its key.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use http::header::{AUTHORIZATION, WWW_AUTHENTICATE};
use http::{HeaderName, HeaderValue, StatusCode};
use subtle::ConstantTimeEq;

use super::{Dialect, Problem, Request};

/// Says how a host asks for its key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AuthScheme {
    /// It never does.
    None,
    /// `Authorization: Bearer KEY`.
    ///
    /// No or another authorization is answered 401 without an error code, a wrong key 401 with
    /// `invalid_token`, a malformed field 400 with `invalid_request`.
    ///
    /// # Source
    /// RFC 6750 section 2.1 (the field), section 3 and 3.1 (the answers).
    Bearer {
        /// The protected space's name; visible ASCII without `"` and `\`.
        realm: String,
    },
    /// `Authorization: Basic …`, the key as the password.
    ///
    /// # Source
    /// RFC 7617 section 2.
    Basic {
        /// The protected space's name; visible ASCII without `"` and `\`.
        realm: String,
        /// The user's name; any will do if there is none.
        user: Option<String>,
    },
    /// The key in a field of its own (common practice; no standard).
    Header {
        /// The field's name.
        name: HeaderName,
        /// What stands before the key.
        prefix: String,
    },
    /// The key as a parameter of the query: hosts do it, although it ends up in logs (RFC 9110
    /// section 17.9).
    Query {
        /// The parameter's name.
        parameter: String,
    },
    /// A cookie that a log-in call sets.
    ///
    /// # Source
    /// RFC 6265 sections 4.1 and 4.2.
    SessionCookie {
        /// The cookie's name.
        cookie: String,
        /// What follows the value in `Set-Cookie`.
        attributes: String,
        /// The user's name; any will do if there is none.
        user: Option<String>,
        /// How long the host's clock may run between two requests; none for ever.
        idle_s: Option<u64>,
    },
    /// A token that a log-in call gives in its body, in a field of its own.
    SessionToken {
        /// The field's name.
        name: HeaderName,
        /// What stands before the token.
        prefix: String,
        /// The user's name; any will do if there is none.
        user: Option<String>,
        /// How long the host's clock may run between two requests; none for ever.
        idle_s: Option<u64>,
    },
}

/// Is what the host knows of a client besides its request.
#[derive(Debug, Clone, Copy)]
pub struct Access<'a> {
    /// The key that the host asks for; `None` lets everybody in.
    pub key: Option<&'a str>,
    /// Whether that key still opens anything.
    pub key_is_good: bool,
    /// Whether the token that came with the request is that of a live log-in.
    pub logged_in: bool,
}

impl Access<'_> {
    /// Lets everybody in.
    pub const OPEN: Access<'static> = Access {
        key: None,
        key_is_good: true,
        logged_in: false,
    };

    /// Asks for a key.
    pub fn by_key(key: &str) -> Access<'_> {
        Access {
            key: Some(key),
            ..Access::OPEN
        }
    }

    /// Tells whether bytes are the key, in a time that does not depend on how alike they are.
    fn is_key(&self, bytes: &[u8]) -> bool {
        self.key_is_good
            && self
                .key
                .is_some_and(|key| bool::from(bytes.ct_eq(key.as_bytes())))
    }
}

/// Says why a key cannot be used with a scheme.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// The dialect has no way to ask for a key.
    #[error("the dialect asks for no key (its auth scheme is `none`)")]
    NotAsked,
    /// The key has characters that the scheme cannot carry.
    #[error(
        "key has characters other than letters, digits and -._~+/ with = at the end \
         (RFC 6750 section 2.1)"
    )]
    NotBearer,
    /// The key is empty or has characters that a password cannot have.
    #[error("key is empty or has control characters (RFC 7617 section 2)")]
    NotText,
    /// The key is empty or has characters that a header field cannot carry.
    #[error(
        "key is empty, or has characters other than visible ASCII with no space at either end \
         (RFC 9110 section 5.5)"
    )]
    NotField,
}

impl AuthScheme {
    /// Checks that the scheme can carry a key.
    ///
    /// # Errors
    /// See [`KeyError`].
    pub fn check_key(&self, key: &str) -> Result<(), KeyError> {
        let is_text = !key.is_empty() && !key.contains(char::is_control);
        match self {
            Self::None => Err(KeyError::NotAsked),
            Self::Bearer { .. } if is_token(key.as_bytes()) => Ok(()),
            Self::Bearer { .. } => Err(KeyError::NotBearer),
            Self::Header { .. } if !key.is_empty() && is_field_text(key) => Ok(()),
            Self::Header { .. } => Err(KeyError::NotField),
            Self::Basic { .. }
            | Self::Query { .. }
            | Self::SessionCookie { .. }
            | Self::SessionToken { .. } => is_text.then_some(()).ok_or(KeyError::NotText),
        }
    }

    /// Tells whether clients log in and show a token afterwards.
    pub fn has_log_in(&self) -> bool {
        matches!(self, Self::SessionCookie { .. } | Self::SessionToken { .. })
    }

    /// Gives how long a log-in may be idle, in seconds of the host's clock.
    pub fn idle_s(&self) -> Option<u64> {
        match self {
            Self::SessionCookie { idle_s, .. } | Self::SessionToken { idle_s, .. } => *idle_s,
            _ => None,
        }
    }

    /// Gives the token of a log-in that a request shows.
    pub fn token<'r>(&self, request: &Request<'r>) -> Option<&'r str> {
        match self {
            Self::SessionCookie { cookie, .. } => request.cookie(cookie),
            Self::SessionToken { name, prefix, .. } => {
                let value = request.headers.get(name)?.to_str().ok()?;
                value.strip_prefix(prefix.as_str())
            }
            _ => None,
        }
    }

    /// Lets a request in, or says what it is answered.
    pub(super) fn admit(&self, request: &Request<'_>, access: &Access<'_>) -> Result<(), Problem> {
        if access.key.is_none() {
            return Ok(());
        }
        match self {
            Self::None => Ok(()),
            Self::Bearer { realm } => bearer(realm, request, access),
            Self::Basic { realm, user } => basic(realm, user.as_deref(), request, access),
            Self::Header { name, prefix } => {
                let mut fields = request.headers.get_all(name).iter();
                let field = fields.next().ok_or_else(|| {
                    unauthorised(format!("a key is needed in the field `{name}`"))
                })?;
                let key = field.as_bytes().strip_prefix(prefix.as_bytes());
                if fields.next().is_none() && key.is_some_and(|key| access.is_key(key)) {
                    return Ok(());
                }
                Err(unauthorised("the key is wrong"))
            }
            Self::Query { parameter } => match request.query_parameter(parameter) {
                None => Err(unauthorised(format!(
                    "a key is needed as the query parameter `{parameter}`"
                ))),
                Some(key) if access.is_key(key.as_bytes()) => Ok(()),
                Some(_) => Err(unauthorised("the key is wrong")),
            },
            Self::SessionCookie { .. } | Self::SessionToken { .. } => {
                if access.logged_in && access.key_is_good {
                    return Ok(());
                }
                Err(unauthorised(match self.token(request) {
                    None => "a log-in is needed",
                    Some(_) => "the log-in is unknown or has ended",
                }))
            }
        }
    }
}

impl Dialect {
    /// Tells whether what a log-in call brought is the key, and the user's name the right one.
    ///
    /// # Errors
    /// The answer for a wrong or missing one.
    pub(super) fn check_log_in(
        &self,
        user: Option<&str>,
        key: &str,
        access: &Access<'_>,
    ) -> Result<(), Problem> {
        let user_is_right = match (&self.auth, user) {
            (
                AuthScheme::SessionCookie {
                    user: Some(known), ..
                }
                | AuthScheme::SessionToken {
                    user: Some(known), ..
                },
                Some(user),
            ) => bool::from(user.as_bytes().ct_eq(known.as_bytes())),
            _ => true,
        };
        if access.key.is_none() || access.is_key(key.as_bytes()) & user_is_right {
            return Ok(());
        }
        Err(unauthorised("the user name or the key is wrong"))
    }
}

/// Refuses without a challenge: none is registered for these schemes, although RFC 9110 section
/// 15.5.2 asks for one with every 401. A dialect can give its own by `problem.headers`.
fn unauthorised(detail: impl Into<String>) -> Problem {
    Problem::new(StatusCode::UNAUTHORIZED, detail)
}

fn bearer(realm: &str, request: &Request<'_>, access: &Access<'_>) -> Result<(), Problem> {
    let mut fields = request.headers.get_all(AUTHORIZATION).iter();
    let Some(field) = fields.next() else {
        let detail = "a key is needed";
        return Err(challenge(realm, StatusCode::UNAUTHORIZED, None, detail));
    };
    let Some(credentials) = credentials(field, b"bearer") else {
        let detail = "a key is needed as `Authorization: Bearer KEY`";
        return Err(challenge(realm, StatusCode::UNAUTHORIZED, None, detail));
    };
    if fields.next().is_some() || !is_token(credentials) {
        let error = Some("invalid_request");
        let detail = "the Authorization field is malformed";
        return Err(challenge(realm, StatusCode::BAD_REQUEST, error, detail));
    }
    if access.is_key(credentials) {
        return Ok(());
    }
    let error = Some("invalid_token");
    let detail = "the key is wrong";
    Err(challenge(realm, StatusCode::UNAUTHORIZED, error, detail))
}

fn basic(
    realm: &str,
    user: Option<&str>,
    request: &Request<'_>,
    access: &Access<'_>,
) -> Result<(), Problem> {
    let refuse = |detail: &str| {
        let value = format!("Basic realm=\"{realm}\", charset=\"UTF-8\"");
        let value = HeaderValue::try_from(value).expect("the realm was checked to be ASCII");
        unauthorised(detail).with_header(WWW_AUTHENTICATE, value)
    };
    let mut fields = request.headers.get_all(AUTHORIZATION).iter();
    let pair = fields
        .next()
        .and_then(|field| credentials(field, b"basic"))
        .ok_or_else(|| refuse("user name and password are needed"))?;
    let pair = STANDARD.decode(pair).unwrap_or_default();
    let colon = pair.iter().position(|byte| *byte == b':');
    let (Some(colon), None) = (colon, fields.next()) else {
        let detail = "the Authorization field is malformed";
        return Err(Problem::new(StatusCode::BAD_REQUEST, detail));
    };
    // Both are compared whatever comes of the first: the time tells nothing.
    let user_is_right = user.is_none_or(|user| bool::from(pair[..colon].ct_eq(user.as_bytes())));
    if access.is_key(&pair[colon + 1..]) & user_is_right {
        return Ok(());
    }
    Err(refuse("the user name or the password is wrong"))
}

/// Gives what follows the scheme's name, which is case-insensitive (RFC 9110 section 11.1).
fn credentials<'a>(field: &'a HeaderValue, scheme: &[u8]) -> Option<&'a [u8]> {
    let bytes = field.as_bytes();
    let end = bytes
        .iter()
        .position(|byte| *byte == b' ')
        .unwrap_or(bytes.len());
    bytes[..end]
        .eq_ignore_ascii_case(scheme)
        .then(|| bytes[end..].trim_ascii())
}

/// Tells whether bytes are a `b64token` (RFC 6750 section 2.1).
fn is_token(bytes: &[u8]) -> bool {
    let padding = bytes.iter().rev().take_while(|byte| **byte == b'=').count();
    let body = &bytes[..bytes.len() - padding];
    !body.is_empty()
        && body
            .iter()
            .all(|byte| byte.is_ascii_alphanumeric() || b"-._~+/".contains(byte))
}

fn challenge(realm: &str, status: StatusCode, error: Option<&str>, detail: &str) -> Problem {
    let value = match error {
        None => format!("Bearer realm=\"{realm}\""),
        Some(error) => {
            format!("Bearer realm=\"{realm}\", error=\"{error}\", error_description=\"{detail}\"")
        }
    };
    let value = HeaderValue::try_from(value).expect("the realm was checked to be visible ASCII");
    Problem::new(status, detail).with_header(WWW_AUTHENTICATE, value)
}

/// Tells whether a realm can be written between quotes without escapes.
pub(super) fn is_realm(realm: &str) -> bool {
    realm
        .bytes()
        .all(|byte| (b' '..=b'~').contains(&byte) && byte != b'"' && byte != b'\\')
}

/// Tells whether text can be a field's value as it is.
fn is_field_text(text: &str) -> bool {
    text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) && text.trim() == text
}

#[cfg(test)]
mod tests {
    use http::{HeaderMap, Method};

    use super::*;

    fn admit(fields: &[&str]) -> Result<(), (u16, String)> {
        let scheme = AuthScheme::Bearer {
            realm: "printer".to_owned(),
        };
        let mut headers = HeaderMap::new();
        for field in fields {
            headers.append(AUTHORIZATION, HeaderValue::from_str(field).unwrap());
        }
        let request = Request {
            method: &Method::GET,
            path: "/",
            query: None,
            headers: &headers,
            body: b"",
        };
        scheme
            .admit(&request, &Access::by_key("s3cret=="))
            .map_err(|problem| {
                let (name, value) = &problem.headers[0];
                assert_eq!(name, WWW_AUTHENTICATE);
                let challenge = value.to_str().unwrap();
                (problem.status.as_u16(), challenge.to_owned())
            })
    }

    #[test]
    fn the_right_key_is_let_in_whatever_the_case_of_the_scheme() {
        assert_eq!(admit(&["Bearer s3cret=="]), Ok(()));
        assert_eq!(admit(&["bEARER  s3cret=="]), Ok(()));
    }

    #[test]
    fn no_key_is_challenged_without_an_error_code_rfc_6750_s3_1() {
        let bare = Err((401, "Bearer realm=\"printer\"".to_owned()));
        assert_eq!(admit(&[]), bare);
        assert_eq!(admit(&["Basic czNjcmV0"]), bare);
    }

    #[test]
    fn a_wrong_key_is_an_invalid_token_and_a_malformed_one_an_invalid_request() {
        for wrong in ["Bearer s3cret", "Bearer s3cret=", "Bearer S3CRET=="] {
            let (status, challenge) = admit(&[wrong]).unwrap_err();
            assert_eq!(status, 401, "{wrong}");
            assert!(challenge.contains("error=\"invalid_token\""), "{challenge}");
        }
        for malformed in [
            &["Bearer"][..],
            &["Bearer a b"],
            &["Bearer s3cret==", "Bearer s3cret=="],
        ] {
            let (status, challenge) = admit(malformed).unwrap_err();
            assert_eq!(status, 400, "{malformed:?}");
            assert!(
                challenge.contains("error=\"invalid_request\""),
                "{challenge}"
            );
        }
    }

    #[test]
    fn a_key_that_the_field_cannot_carry_is_refused_at_start() {
        let scheme = AuthScheme::Bearer {
            realm: String::new(),
        };
        assert_eq!(scheme.check_key("abc-._~+/09=="), Ok(()));
        for key in ["", "=", "a b", "ä", "a=b"] {
            assert_eq!(scheme.check_key(key), Err(KeyError::NotBearer), "{key}");
        }
        assert_eq!(AuthScheme::None.check_key("abc"), Err(KeyError::NotAsked));
    }
}
