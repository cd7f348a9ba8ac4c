//! Which requests to the control API are let in.
//!
//! The API changes things, and any page open in a browser on this machine can send requests to
//! loopback. So a request must be meant for this listener, and must not come from another page.

use std::net::{IpAddr, SocketAddr};

use http::header::{AUTHORIZATION, HOST, ORIGIN};
use http::uri::Authority;
use http::{HeaderMap, StatusCode};
use subtle::ConstantTimeEq;

/// Says whom to let in.
#[derive(Debug, Clone)]
pub(crate) struct Gate {
    /// Where is listened.
    pub(crate) address: SocketAddr,
    /// The key to be shown, if one is asked for.
    pub(crate) key: Option<String>,
}

/// Says why a request is turned away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(crate) enum TurnedAway {
    /// There is not exactly one `Host`.
    #[error("the request needs exactly one Host field")]
    NoHost,
    /// It names somebody else: the page of a name that was made to point here.
    #[error(
        "the Host field names another host [ask by the address that was printed, or localhost]"
    )]
    OtherHost,
    /// It comes from another page.
    #[error("the request comes from a page of another origin, and only this API's own may ask")]
    OtherOrigin,
    /// It has not the key.
    #[error("a key is asked for [send it as Authorization: Bearer KEY]")]
    NoKey,
    /// It has another key.
    #[error("the key is wrong")]
    WrongKey,
}

impl TurnedAway {
    /// Gives the status it is told with.
    ///
    /// # Source
    /// RFC 9112 section 3.2 (400 for a missing or repeated Host), RFC 9110 section 15.5.20 (421),
    /// section 15.5.4 (403), section 15.5.2 (401).
    pub(crate) fn status(self) -> StatusCode {
        match self {
            Self::NoHost => StatusCode::BAD_REQUEST,
            Self::OtherHost => StatusCode::MISDIRECTED_REQUEST,
            Self::OtherOrigin => StatusCode::FORBIDDEN,
            Self::NoKey | Self::WrongKey => StatusCode::UNAUTHORIZED,
        }
    }
}

impl Gate {
    /// Lets a request in, or says why not.
    ///
    /// # Errors
    /// [`TurnedAway`].
    pub(crate) fn admit(&self, headers: &HeaderMap) -> Result<(), TurnedAway> {
        self.admit_without_key(headers)?;
        self.check_key(headers)
    }

    /// Lets a request in for what is no secret, or says why not.
    ///
    /// # Errors
    /// [`TurnedAway`], but not for want of a key.
    pub(crate) fn admit_without_key(&self, headers: &HeaderMap) -> Result<(), TurnedAway> {
        let host = host(headers)?;
        // Where a key is asked for, the page of a name that was made to point here has none.
        if self.key.is_none() && !self.is_ours(&host) {
            return Err(TurnedAway::OtherHost);
        }
        if headers.get_all(ORIGIN).iter().any(|origin| {
            let origin = origin.to_str().ok();
            !origin.is_some_and(|origin| is_same_origin(origin, &host))
        }) {
            return Err(TurnedAway::OtherOrigin);
        }
        Ok(())
    }

    /// Tells whether an authority is one of this listener's. An address cannot be made to point
    /// elsewhere, a name can (DNS rebinding).
    fn is_ours(&self, host: &Authority) -> bool {
        let name = host.host().trim_start_matches('[').trim_end_matches(']');
        let is_host = name.eq_ignore_ascii_case("localhost")
            || name
                .parse::<IpAddr>()
                .is_ok_and(|ip| ip.is_loopback() || ip == self.address.ip());
        is_host && host.port_u16().unwrap_or(80) == self.address.port()
    }

    fn check_key(&self, headers: &HeaderMap) -> Result<(), TurnedAway> {
        let Some(key) = &self.key else { return Ok(()) };
        let mut fields = headers.get_all(AUTHORIZATION).iter();
        let shown = fields.next().ok_or(TurnedAway::NoKey)?.as_bytes();
        let (scheme, shown) = shown.split_at_checked(7).ok_or(TurnedAway::NoKey)?;
        if !scheme.eq_ignore_ascii_case(b"Bearer ") {
            return Err(TurnedAway::NoKey);
        }
        let is_key = bool::from(shown.ct_eq(key.as_bytes()));
        match is_key && fields.next().is_none() {
            true => Ok(()),
            false => Err(TurnedAway::WrongKey),
        }
    }
}

fn host(headers: &HeaderMap) -> Result<Authority, TurnedAway> {
    let mut hosts = headers.get_all(HOST).iter();
    let (Some(host), None) = (hosts.next(), hosts.next()) else {
        return Err(TurnedAway::NoHost);
    };
    Authority::try_from(host.as_bytes()).map_err(|_| TurnedAway::OtherHost)
}

/// Tells whether an origin is the one that the request is for. `null`, which stands for an origin
/// that is kept secret, is not.
///
/// # Source
/// RFC 6454 section 5 (the same scheme, host and port), section 7.1 (`null`).
fn is_same_origin(origin: &str, host: &Authority) -> bool {
    let Some(authority) = origin.strip_prefix("http://") else {
        return false;
    };
    Authority::try_from(authority).is_ok_and(|authority| {
        authority.host().eq_ignore_ascii_case(host.host())
            && authority.port_u16().unwrap_or(80) == host.port_u16().unwrap_or(80)
    })
}
