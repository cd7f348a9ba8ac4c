//! How a host asks for its key, as written.

use schemars::JsonSchema;
use serde::Deserialize;

use super::Spanned;
use super::Text;
use crate::dialect::check::SCHEMES;

/// How the host asks for its key. Besides `scheme` and `status`, only the keys of that scheme may
/// be there.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Auth {
    /// The scheme. `session-cookie` and `session-token` need a route with `log-in`.
    #[schemars(extend("enum" = SCHEMES))]
    pub(in crate::dialect) scheme: Text,
    /// The protected space's name (`bearer`, `basic`; needed): visible ASCII without `"` and `\`.
    pub(in crate::dialect) realm: Option<Text>,
    /// The user's name (`basic`, `session-cookie`, `session-token`); left out, any will do.
    pub(in crate::dialect) user: Option<Text>,
    /// The header field that holds the key or the token (`header`, `session-token`; needed).
    pub(in crate::dialect) header: Option<Text>,
    /// What stands before the key in that field (`header`, `session-token`). Default empty.
    pub(in crate::dialect) prefix: Option<Text>,
    /// The query parameter that holds the key (`query`; needed).
    pub(in crate::dialect) parameter: Option<Text>,
    /// The cookie's name (`session-cookie`; needed): a token (RFC 6265 section 4.1.1).
    pub(in crate::dialect) cookie: Option<Text>,
    /// What follows the value in `Set-Cookie` (`session-cookie`). Default
    /// `Path=/; HttpOnly; SameSite=Lax`.
    pub(in crate::dialect) cookie_attributes: Option<Text>,
    /// How long a log-in may be idle, in seconds of the host's clock (`session-cookie`,
    /// `session-token`). Default for ever.
    pub(in crate::dialect) idle_s: Option<Spanned<u64>>,
    /// The status of a refusal in the place of 401, 200 to 599.
    #[schemars(range(min = 200, max = 599))]
    pub(in crate::dialect) status: Option<Spanned<u16>>,
}
