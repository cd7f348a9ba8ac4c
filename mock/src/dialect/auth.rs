//! How a host asks for its key.

use http::header::{AUTHORIZATION, WWW_AUTHENTICATE};
use http::{HeaderValue, StatusCode};
use subtle::ConstantTimeEq;

use super::{Problem, RequestHead};

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
}

impl AuthScheme {
    /// Checks that the scheme can carry a key.
    ///
    /// # Errors
    /// See [`KeyError`].
    pub fn check_key(&self, key: &str) -> Result<(), KeyError> {
        match self {
            Self::None => Err(KeyError::NotAsked),
            Self::Bearer { .. } if is_token(key.as_bytes()) => Ok(()),
            Self::Bearer { .. } => Err(KeyError::NotBearer),
        }
    }

    /// Lets a request in, or says what it is answered.
    pub(super) fn admit(&self, head: &RequestHead<'_>, key: &str) -> Result<(), Problem> {
        let Self::Bearer { realm } = self else {
            return Ok(());
        };
        let mut fields = head.headers.get_all(AUTHORIZATION).iter();
        let Some(field) = fields.next() else {
            return Err(challenge(
                realm,
                StatusCode::UNAUTHORIZED,
                None,
                "a key is needed",
            ));
        };
        let Some(credentials) = bearer_credentials(field) else {
            let detail = "a key is needed as `Authorization: Bearer KEY`";
            return Err(challenge(realm, StatusCode::UNAUTHORIZED, None, detail));
        };
        if fields.next().is_some() || !is_token(credentials) {
            let error = Some("invalid_request");
            let detail = "the Authorization field is malformed";
            return Err(challenge(realm, StatusCode::BAD_REQUEST, error, detail));
        }
        if bool::from(credentials.ct_eq(key.as_bytes())) {
            return Ok(());
        }
        let error = Some("invalid_token");
        Err(challenge(
            realm,
            StatusCode::UNAUTHORIZED,
            error,
            "the key is wrong",
        ))
    }
}

/// Gives what follows the scheme's name, which is case-insensitive (RFC 9110 section 11.1).
fn bearer_credentials(field: &HeaderValue) -> Option<&[u8]> {
    let bytes = field.as_bytes();
    let end = bytes
        .iter()
        .position(|byte| *byte == b' ')
        .unwrap_or(bytes.len());
    bytes[..end]
        .eq_ignore_ascii_case(b"bearer")
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
        let head = RequestHead {
            method: &Method::GET,
            path: "/",
            query: None,
            headers: &headers,
        };
        scheme.admit(&head, "s3cret==").map_err(|problem| {
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
