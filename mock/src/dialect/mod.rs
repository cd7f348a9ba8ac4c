//! How one host puts the truth on the wire.
//!
//! A [`Dialect`] is one checked version of a TOML file, a [`DialectFile`] all of them: routes,
//! bodies, word tables, key, errors, commands, push, what is published. The server knows no field
//! name and no path of its own; all of them come from here.
//!
//! Owns: reading and checking such a file, choosing the route for a request, rendering bodies,
//! reading a command's arguments, conditional requests, problem bodies; and, for authors, the
//! language's schema, what is hardly meant in a file, and a dialect as an OpenAPI document.
//! Does not own: sockets, a clock, the simulation. Everything here is a function of its arguments.
//!
//! # The way through
//!
//! - `file/` has the types a file is read into, with the layers of its versions; the comment of each
//!   key there is what an editor shows.
//! - `check/` makes a [`Dialect`] of them, and tries everything it can say with sample truths.
//! - [`Dialect::route`] chooses a route for a [`Request`]; the [`Matched`] it gives is rendered by
//!   [`Dialect::render`], drifted by whoever wants to, and made an [`Answer`] by
//!   [`Dialect::finish`] and [`Dialect::for_request`]. A command goes by [`Dialect::order`],
//!   [`Dialect::decide`] and, when the printer says no, [`Dialect::refused`].
//! - [`Dialect::push_plan`] and [`Dialect::mqtt`] say how a host tells by itself.
//!
//! # The language
//!
//! `docs/dialects.md` and the pages it links to describe it key by key; `schemas/dialect.schema.json`
//! is made from `file/`. In short, a body is JSON text in which
//! - a string that is exactly `{{ expression }}` takes the expression's value with its type,
//! - a string with `{{ expression }}` inside other text stays a string,
//! - a member named `{% if … %}`, `{% elif … %}`, `{% else %}`, `{% for x in … %}`,
//!   `{% for k, v in … %}` or `{% with x = … %}` adds the members of its value to the object;
//! - where an object has nothing but one such group, the value itself takes the object's place:
//!   `{% if %}` chooses a value (none chosen: the member or element is left out), and
//!   `{% for %}` inside an array gives elements,
//! - the string `{% include 'part' %}` takes the part's value.
//!
//! Expressions see the fields of [`Truth`](crate::sim::Truth) by their serialised names, `words.…`,
//! and what the request brought: `path.…`, `query.…`, `body`.

mod accept_encoding;
mod announce_plan;
mod answer;
mod argument;
mod auth;
mod body;
mod budget;
mod builtin;
mod check;
mod compile;
mod conditional;
mod content_coding;
mod cors;
mod describe;
mod error;
mod expression;
mod file;
mod filled;
mod filter;
mod for_request;
mod http_behaviour;
mod json;
mod lint;
mod log_in;
pub(crate) mod merge_patch;
mod mqtt_plan;
mod names;
mod order;
mod place;
mod preview;
mod problem;
mod push_plan;
mod reading;
mod redirect;
mod refusal;
mod render;
mod request;
mod route;
mod router;
mod sample;
mod schema;
mod scope;
mod term;
mod text;
mod text_body;
mod topic_name;
mod vary;
mod versions;
mod whereabouts;

#[cfg(test)]
pub(crate) mod tests;

pub use announce_plan::{AnnouncePlan, Announcement};
pub use answer::Answer;
pub use auth::{Access, AuthScheme, KeyError};
pub use cors::Cors;
pub use error::{DialectError, DialectProblem};
pub use http_behaviour::{GzipUse, HeaderCase, HttpBehaviour, LengthForm};
pub use lint::{LintError, Warning};
pub use log_in::LogIns;
pub use mqtt_plan::{
    MAX_MESSAGES, MAX_WILL_BYTES, MqttPlan, MqttProtocol, Publication, PublicationBody, Qos,
};
pub use order::Order;
pub use preview::Shown;
pub use problem::Problem;
pub use push_plan::{
    AtTimeout, EventStreamPlan, LongPollIds, LongPollPlan, PingPlan, PushForm, PushMessages,
    PushOn, PushPlan, WebSocketPlan,
};
pub use reading::{BodyReader, Reading, Told};
pub use refusal::Decided;
pub use render::{RenderError, Rendered};
pub use request::Request;
pub use route::{Matched, Params, RouteId, ShownKey};
pub use router::Routed;
pub use versions::{DialectFile, UnknownVersion};
pub use whereabouts::Quantity;

/// Is one version of one host's way of putting the truth on the wire, checked when it was read.
#[derive(Debug)]
pub struct Dialect {
    name: String,
    title: Option<String>,
    version: String,
    /// Where the version stands in its file, from 0.
    place: usize,
    auth: AuthScheme,
    /// The status in the place of 401, if the host has another.
    refusal_status: Option<http::StatusCode>,
    headers: http::HeaderMap,
    http: HttpBehaviour,
    redirects: Vec<redirect::Redirect>,
    problem: problem::ProblemTemplate,
    words: minijinja::Value,
    routes: Vec<route::Route>,
    router: router::Router,
    mqtt: Option<mqtt_plan::MqttPlan>,
    announce: Option<announce_plan::AnnouncePlan>,
}

impl Dialect {
    /// Gives the name the dialect was read under.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Gives where the version stands in its file, counted from 0.
    pub fn place(&self) -> usize {
        self.place
    }

    /// Gives what the file calls the host, for people.
    pub fn title(&self) -> Option<&str> {
        self.title.as_deref()
    }

    /// Gives the name of the version.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Gives the way this host asks for its key.
    pub fn auth(&self) -> &AuthScheme {
        &self.auth
    }
}
