//! What only a run knows, and the places for it in a command.

use std::borrow::Cow;
use std::path::PathBuf;
use std::time::Duration;

/// Is what a watcher is told when it is started.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Call {
    /// The host's URL: `{url}`.
    pub url: String,
    /// The host's key: `{key}`.
    pub key: String,
    /// The dialect it speaks, as named by the user: `{dialect}`.
    pub dialect: String,
    /// How often the watcher is to ask, if anybody cares: `{interval}`, in seconds, decimal.
    pub interval: Option<Duration>,
    /// The PEM file of the authority to trust when the URL is `https`: `{authority}`; nothing is put
    /// in its place where there is none.
    pub authority: Option<PathBuf>,
}

/// What a watcher that takes an interval is given when nobody cares (own choice).
const INTERVAL: Duration = Duration::from_secs(1);

/// The places in words and environment values.
const PLACES: [&str; 6] = [
    "{url}",
    "{key}",
    "{dialect}",
    "{interval}",
    "{authority}",
    "{callback}",
];

/// Puts what a run knows into the places of a text.
#[derive(Debug)]
pub(super) struct Filler<'a> {
    call: &'a Call,
    callback: Option<&'a str>,
}

impl<'a> Filler<'a> {
    /// Takes the call, and the address to which a device posts where there is one.
    pub(super) fn new(call: &'a Call, callback: Option<&'a str>) -> Self {
        Self { call, callback }
    }

    /// Fills a text, in one pass: what was put in is not looked at again.
    pub(super) fn fill(&self, text: &str) -> String {
        let mut filled = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(start) = rest.find('{') {
            filled.push_str(&rest[..start]);
            rest = &rest[start..];
            match PLACES.iter().find(|place| rest.starts_with(**place)) {
                Some(place) => {
                    filled.push_str(&self.value(place));
                    rest = &rest[place.len()..];
                }
                None => {
                    filled.push('{');
                    rest = &rest[1..];
                }
            }
        }
        filled.push_str(rest);
        filled
    }

    fn value(&self, place: &str) -> Cow<'a, str> {
        match place {
            "{url}" => Cow::Borrowed(&self.call.url),
            "{key}" => Cow::Borrowed(&self.call.key),
            "{dialect}" => Cow::Borrowed(&self.call.dialect),
            "{interval}" => {
                let interval = self.call.interval.unwrap_or(INTERVAL);
                Cow::Owned(interval.as_secs_f64().to_string())
            }
            "{authority}" => match &self.call.authority {
                Some(file) => file.to_string_lossy(),
                None => Cow::Borrowed(""),
            },
            _ => Cow::Borrowed(self.callback.unwrap_or("")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn call() -> Call {
        Call {
            url: "http://127.0.0.1:9".to_owned(),
            key: "{url}".to_owned(),
            dialect: "plain".to_owned(),
            interval: Some(Duration::from_millis(500)),
            authority: None,
        }
    }

    #[test]
    fn each_place_is_filled_and_other_braces_stay() {
        let call = call();
        let filler = Filler::new(&call, Some("http://127.0.0.1:8/sightings"));
        assert_eq!(
            filler.fill("{url}/x --every={interval} {\"d\":\"{dialect}\"} {authority}{other"),
            "http://127.0.0.1:9/x --every=0.5 {\"d\":\"plain\"} {other"
        );
        assert_eq!(filler.fill("{callback}"), "http://127.0.0.1:8/sightings");
    }

    #[test]
    fn what_was_put_in_is_not_filled_again() {
        let call = call();
        assert_eq!(Filler::new(&call, None).fill("{key}"), "{url}");
    }
}
