//! What a fault happens to.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use xxhash_rust::xxh3::xxh3_64_with_seed;

use super::{Fault, Span, Unit};

/// Says what a fault happens to: everything, unless something is said.
///
/// What has to be so at once: a request that is for the route, on the connection, within the window,
/// beyond those skipped, drawn by the probability, and one of so many times.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Scope {
    /// Only requests for this path; `{name}` stands for one segment and `{*rest}` for all others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub route: Option<RoutePattern>,
    /// Only requests with this method.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Only what is on this connection; they are numbered from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub connection: Option<u64>,
    /// How many pass first.
    #[serde(skip_serializing_if = "is_zero")]
    pub skip: u64,
    /// How often it happens; without a number there is no end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub times: Option<u64>,
    /// The share of those in scope that it happens to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probability: Option<Probability>,
    /// What the draws for the probability begin with.
    #[serde(skip_serializing_if = "is_zero")]
    pub seed: u64,
    /// How long after it was raised it begins, in virtual time.
    #[serde(skip_serializing_if = "Span::is_zero")]
    pub after: Span,
    /// How long it lasts from then on, in virtual time; without one until it is cleared.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lasts: Option<Span>,
}

fn is_zero(number: &u64) -> bool {
    *number == 0
}

impl Scope {
    /// Is the scope of the next so many.
    pub fn times(count: u64) -> Self {
        Self {
            times: Some(count),
            ..Self::default()
        }
    }

    /// Is the scope of the requests for a path.
    ///
    /// # Errors
    /// [`PatternError`].
    pub fn route(pattern: &str) -> Result<Self, PatternError> {
        Ok(Self {
            route: Some(RoutePattern::new(pattern)?),
            ..Self::default()
        })
    }

    /// Tells whether the `n`th of those in scope, from 0, is drawn. The same seed draws the same.
    pub(super) fn draws(&self, n: u64) -> bool {
        self.probability.is_none_or(|probability| {
            /// 2 to the power of 53: as many steps as an `f64` has from 0 to 1.
            const STEPS: f64 = 9_007_199_254_740_992.0;
            let drawn = xxh3_64_with_seed(&n.to_le_bytes(), self.seed) >> 11;
            #[expect(clippy::cast_precision_loss, reason = "53 bits are left")]
            let share = drawn as f64 / STEPS;
            share < probability.get()
        })
    }

    /// Tells whether a request is one of those it can happen to.
    pub(super) fn fits(&self, occasion: &Occasion<'_>) -> bool {
        self.connection
            .is_none_or(|connection| connection == occasion.connection)
            && self
                .method
                .as_deref()
                .is_none_or(|method| method == occasion.method)
            && self
                .route
                .as_ref()
                .is_none_or(|route| route.matches(occasion.path))
    }
}

/// Is what may go wrong: one request, or one message of a stream that a request has begun.
///
/// For a message published to a broker the connection is 0, the method `PUBLISH` and the path a slash
/// and the topic.
#[derive(Debug, Clone, Copy)]
pub struct Occasion<'a> {
    /// The number of the connection.
    pub connection: u64,
    /// How many answers the connection has had before.
    pub answers_before: u64,
    /// The method.
    pub method: &'a str,
    /// The path.
    pub path: &'a str,
}

/// Is a path with names for segments, as dialects write their routes.
#[derive(Clone)]
pub struct RoutePattern {
    text: String,
    router: matchit::Router<()>,
}

/// Says why something is no pattern of a path.
#[derive(Debug, thiserror::Error)]
pub enum PatternError {
    /// It does not begin with a slash.
    #[error("`{0}` does not begin with a slash")]
    NoSlash(String),
    /// Its names cannot be understood.
    #[error("`{pattern}` is no path: {source}")]
    Names {
        /// The pattern.
        pattern: String,
        /// Why.
        source: matchit::InsertError,
    },
}

impl RoutePattern {
    /// Reads a pattern.
    ///
    /// # Errors
    /// [`PatternError`].
    pub fn new(text: impl Into<String>) -> Result<Self, PatternError> {
        let text = text.into();
        if !text.starts_with('/') {
            return Err(PatternError::NoSlash(text));
        }
        let mut router = matchit::Router::new();
        match router.insert(text.clone(), ()) {
            Ok(()) => Ok(Self { text, router }),
            Err(source) => Err(PatternError::Names {
                pattern: text,
                source,
            }),
        }
    }

    /// Tells whether a path is one of those meant.
    pub fn matches(&self, path: &str) -> bool {
        self.router.at(path).is_ok()
    }
}

impl fmt::Debug for RoutePattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("RoutePattern").field(&self.text).finish()
    }
}

impl PartialEq for RoutePattern {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Serialize for RoutePattern {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

impl<'de> Deserialize<'de> for RoutePattern {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Self::new(String::deserialize(deserializer)?).map_err(de::Error::custom)
    }
}

impl JsonSchema for RoutePattern {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "RoutePattern".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^/", "examples": ["/heaters/{name}"] })
    }
}

/// Is a share above 0 and up to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Probability(f64);

impl Probability {
    /// Takes a share above 0 and up to 1; `None` for anything else.
    pub fn new(share: f64) -> Option<Self> {
        (share > 0.0 && share <= 1.0).then_some(Self(share))
    }

    /// Gives the share.
    pub fn get(&self) -> f64 {
        self.0
    }
}

impl<'de> Deserialize<'de> for Probability {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let share = f64::deserialize(deserializer)?;
        Self::new(share).ok_or_else(|| {
            de::Error::custom(format_args!(
                "{share} is no share [it is above 0 and up to 1]"
            ))
        })
    }
}

impl JsonSchema for Probability {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Probability".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "number", "exclusiveMinimum": 0, "maximum": 1 })
    }
}

/// Is a fault with what it happens to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct ScopedFault {
    /// What goes wrong.
    pub fault: Fault,
    /// What it happens to.
    #[serde(default, skip_serializing_if = "is_everything")]
    pub scope: Scope,
}

fn is_everything(scope: &Scope) -> bool {
    *scope == Scope::default()
}

/// Says why a fault cannot have a scope.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{fault}` takes no `{key}`: it {why}")]
pub struct ScopeError {
    /// The fault's name.
    pub fault: String,
    /// The key of the scope.
    pub key: &'static str,
    /// What the fault is like.
    pub why: &'static str,
}

impl ScopedFault {
    /// Checks that the scope is one that the fault can have.
    ///
    /// # Errors
    /// [`ScopeError`].
    pub fn check(&self) -> Result<(), ScopeError> {
        let scope = &self.scope;
        let counted = [
            ("skip", scope.skip > 0),
            ("times", scope.times.is_some()),
            ("probability", scope.probability.is_some()),
        ];
        let asked = [
            ("route", scope.route.is_some()),
            ("method", scope.method.is_some()),
        ];
        let one = [("connection", scope.connection.is_some())];
        let (forbidden, why): (Vec<_>, _) = match self.fault.unit() {
            Unit::Network => (
                [&counted[..], &asked, &one].concat(),
                "happens to the whole network",
            ),
            Unit::OpenConnections => (
                [&counted[..], &asked].concat(),
                "happens to connections at once",
            ),
            Unit::Connection => (
                [&asked[..], &one].concat(),
                "happens before there is a request",
            ),
            Unit::Stream => (counted.to_vec(), "happens to streams all the time"),
            Unit::Exchange | Unit::Message => return Ok(()),
        };
        match forbidden.iter().find(|(_, is_there)| *is_there) {
            Some((key, _)) => Err(ScopeError {
                fault: self.fault.name(),
                key,
                why,
            }),
            None => Ok(()),
        }
    }
}

impl From<Fault> for ScopedFault {
    fn from(fault: Fault) -> Self {
        Self {
            fault,
            scope: Scope::default(),
        }
    }
}

impl fmt::Display for ScopedFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.fault.fmt(f)?;
        let scope = &self.scope;
        let mut sep = " (";
        let mut say = |f: &mut fmt::Formatter<'_>, words: fmt::Arguments<'_>| {
            let written = write!(f, "{sep}{words}");
            sep = ", ";
            written
        };
        if let Some(route) = &scope.route {
            say(f, format_args!("of {}", route.text))?;
        }
        if let Some(method) = &scope.method {
            say(f, format_args!("of {method}"))?;
        }
        if let Some(connection) = scope.connection {
            say(f, format_args!("on connection {connection}"))?;
        }
        if scope.skip > 0 {
            say(f, format_args!("after {} that pass", scope.skip))?;
        }
        if let Some(times) = scope.times {
            say(f, format_args!("{times} times"))?;
        }
        if let Some(probability) = scope.probability {
            say(f, format_args!("with probability {}", probability.get()))?;
        }
        if !scope.after.is_zero() {
            say(f, format_args!("from {} on", scope.after))?;
        }
        if let Some(lasts) = scope.lasts {
            say(f, format_args!("for {lasts}"))?;
        }
        if sep == ", " {
            f.write_str(")")
        } else {
            Ok(())
        }
    }
}
