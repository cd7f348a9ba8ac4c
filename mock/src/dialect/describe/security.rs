//! How a host asks for its key, as a Security Scheme Object.

use serde_json::{Value, json};

use crate::dialect::AuthScheme;

/// What the scheme is called in the document.
pub(super) const NAME: &str = "key";

/// Describes a scheme; there is none where no key is asked for.
pub(super) fn scheme(auth: &AuthScheme) -> Option<Value> {
    let in_field = |name: &str, what: &str, prefix: &str| {
        let mut scheme = json!({ "type": "apiKey", "in": "header", "name": name });
        if !prefix.is_empty() {
            scheme["description"] = format!("The {what}, after the text `{prefix}`.").into();
        }
        scheme
    };
    Some(match auth {
        AuthScheme::None => return None,
        AuthScheme::Bearer { .. } => json!({ "type": "http", "scheme": "bearer" }),
        AuthScheme::Basic { user, .. } => {
            let user = user.as_deref().unwrap_or("any");
            json!({
                "type": "http",
                "scheme": "basic",
                "description": format!("User name: {user}. The key is the password."),
            })
        }
        AuthScheme::Header { name, prefix } => in_field(name.as_str(), "key", prefix),
        AuthScheme::Query { parameter } => {
            json!({ "type": "apiKey", "in": "query", "name": parameter })
        }
        AuthScheme::SessionCookie { cookie, .. } => {
            json!({ "type": "apiKey", "in": "cookie", "name": cookie })
        }
        AuthScheme::SessionToken { name, prefix, .. } => in_field(name.as_str(), "token", prefix),
    })
}
