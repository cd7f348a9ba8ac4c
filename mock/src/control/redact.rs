//! What of a request may be shown: keys and cookies may not.

use std::borrow::Cow;

use http::header::{AUTHORIZATION, COOKIE, PROXY_AUTHORIZATION, SET_COOKIE};
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};

use crate::dialect::AuthScheme;

/// Stands where something is not shown.
const HIDDEN: &str = "(hidden)";

/// Knows what is not shown.
#[derive(Debug, Clone)]
pub(crate) struct Redaction {
    /// The key, as it is and as it stands in an address.
    keys: Vec<String>,
    /// Names of fields, in lower case.
    fields: Vec<String>,
    /// Names of parameters of the query.
    parameters: Vec<String>,
}

impl Redaction {
    /// Hides a host's key, and wherever the dialects' schemes have a place for one, whatever stands
    /// there: it may be the key of a real host.
    pub(crate) fn new<'a>(
        key: Option<&str>,
        schemes: impl Iterator<Item = &'a AuthScheme>,
    ) -> Self {
        let mut fields = [AUTHORIZATION, PROXY_AUTHORIZATION, COOKIE, SET_COOKIE]
            .map(|name| name.as_str().to_owned())
            .to_vec();
        let mut parameters = Vec::new();
        for scheme in schemes {
            match scheme {
                AuthScheme::Header { name, .. } | AuthScheme::SessionToken { name, .. } => {
                    fields.push(name.as_str().to_owned());
                }
                AuthScheme::Query { parameter } => parameters.push(parameter.clone()),
                _ => {}
            }
        }
        let mut keys = Vec::new();
        if let Some(key) = key.filter(|key| !key.is_empty()) {
            keys.push(key.to_owned());
            keys.push(utf8_percent_encode(key, NON_ALPHANUMERIC).to_string());
            keys.dedup();
        }
        Self {
            keys,
            fields,
            parameters,
        }
    }

    /// Gives a field's value as it may be shown.
    pub(crate) fn field(&self, name: &str, value: &str) -> String {
        if self.fields.iter().any(|hidden| hidden == name) {
            return HIDDEN.to_owned();
        }
        self.text(value).into_owned()
    }

    /// Gives a request target as it may be shown.
    pub(crate) fn target(&self, target: &str) -> String {
        let Some((path, query)) = target.split_once('?') else {
            return self.text(target).into_owned();
        };
        let pairs: Vec<Cow<'_, str>> = query
            .split('&')
            .map(|pair| match pair.split_once('=') {
                Some((name, _)) if self.parameters.iter().any(|hidden| hidden == name) => {
                    format!("{name}={HIDDEN}").into()
                }
                _ => self.text(pair),
            })
            .collect();
        format!("{}?{}", self.text(path), pairs.join("&"))
    }

    /// Gives a text without the key.
    pub(crate) fn text<'t>(&self, text: &'t str) -> Cow<'t, str> {
        let mut shown = Cow::Borrowed(text);
        for key in &self.keys {
            if shown.contains(key.as_str()) {
                shown = shown.replace(key.as_str(), HIDDEN).into();
            }
        }
        shown
    }
}
