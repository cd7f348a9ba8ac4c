//! How one host puts the truth on the wire.
//!
//! A [`Dialect`] is a checked TOML file: routes, bodies, word tables, key, errors, commands and
//! push. The server knows no field name and no path of its own; all of them come from here.
//!
//! Owns: reading and checking such a file, choosing the route for a request, rendering bodies,
//! reading a command's arguments, conditional requests, problem bodies; and, for authors, the
//! language's schema, what is hardly meant in a file, and a dialect as an OpenAPI document.
//! Does not own: sockets, a clock, the simulation. Everything here is a function of its arguments.
//!
//! # The file
//!
//! ```toml
//! [auth]
//! scheme = "bearer"                # or "none"
//! realm = "printer"
//!
//! [headers]                        # with every answer
//! Cache-Control = "no-cache"
//!
//! [problem]                        # every error body; sees status, title, detail, pointer
//! content-type = "application/problem+json"
//! body = '''{ "status": "{{ status }}", "title": "{{ title }}" }'''
//!
//! [words.state]                    # a table of words, seen as `words.state`
//! idle = "ready"
//!
//! [parts]                          # bodies used by several routes
//! heater = '''{ "now": "{{ heater.actual_celsius | round(1) }}" }'''
//!
//! [[routes]]
//! method = "GET"
//! path = "/heaters/{name}"
//! exists = "path.name in heaters"  # else 404 with the text of `missing`
//! missing = "no heater is called {{ path.name }}"
//! body = '''{ "{% with heater = heaters[path.name] %}": "{% include 'heater' %}" }'''
//! ```
//!
//! Besides `method`, `path`, `exists`, `missing` and `body`, a route may have `status` (200),
//! `content-type`, `headers`, and one of
//! - `push = { form = "server-sent-events", period-ms = 500, keep-alive-s = 15, retry-ms = 2000 }`
//!   (also `event`, `patch-event`),
//!   `push = { form = "websocket", period-ms = 500, ping-s = 30, pong-within-s = 10 }` (also
//!   `subprotocol`) or `push = { form = "long-poll", period-ms = 200, timeout-s = 30 }` (also
//!   `since` with `id-header`, `at-timeout`); the first two may have `on = "change"` or `"period"`
//!   and `messages = "full"` or `"merge-patch"`,
//! - `command = "pause-job"`, `"resume-job"`, `"cancel-job"` or `"set-target"`; the last one has
//!   `arguments` called `heater` and `celsius`, each `{ path = "NAME" }`, `{ body = "POINTER" }` (a
//!   JSON Pointer, RFC 6901) or `{ value = … }`. Its body is rendered after the command.
//!
//! # How the host speaks HTTP
//!
//! Every key of `[http]`, `[http.cors]` and `[[redirects]]` is optional but a redirect's `path` and
//! `to`; what is not there is as in [`HttpBehaviour::default`] and [`Cors`]:
//!
//! ```toml
//! [http]
//! version = "1.1"                  # or "1.0"
//! keep-alive = true
//! keep-alive-requests = 100        # no limit without it
//! keep-alive-idle-s = 5            # no limit without it; real time
//! length = "content-length"        # or "chunked"
//! gzip = "never"                   # or "when-asked", "always"
//! header-case = "lower"            # or "title"
//! date = true
//! date-skew-s = 0
//! host-field = true
//!
//! [http.cors]                      # without it the host knows nothing of CORS
//! origins = ["*"]
//! headers = ["Authorization"]
//! methods = ["GET", "PUT"]         # those of the path without it
//! expose = ["ETag"]
//! credentials = false
//! max-age-s = 600
//!
//! [[redirects]]
//! path = "/"
//! to = "/printer"
//! status = 302
//! method = "GET"                   # every method without it
//! ```
//!
//! # Bodies
//!
//! A body is JSON text in which
//! - a string that is exactly `{{ expression }}` takes the expression's value with its type,
//! - a string with `{{ expression }}` inside other text stays a string,
//! - a member named `{% if … %}`, `{% elif … %}`, `{% else %}`, `{% for x in … %}`,
//!   `{% for k, v in … %}` or `{% with x = … %}` adds the members of its value to the object;
//! - where an object has nothing but one such group, the value itself takes the object's place:
//!   `{% if %}` chooses a value (none chosen: the member or element is left out), and
//!   `{% for %}` inside an array gives elements,
//! - the string `{% include 'part' %}` takes the part's value.
//!
//! Expressions see the fields of [`Truth`](crate::sim::Truth) by their serialised names,
//! `path.…` for the parameters of the route, and `words.…`. Filters write a value as a
//! host would: `round(1)` always gives a number with a decimal point, `whole` always one without,
//! `fahrenheit`, `hms`, `rfc3339` and more do what their names say. All give null for null and for a
//! number that is not finite. `docs/dialect-filters.md` lists them, and `docs/dialects.md` has every key.
//!
//! # Publishing and announcing
//!
//! ```toml
//! [mqtt]                           # what is published, when the host is given a broker
//! protocol = "3.1.1"               # or "5"
//! client-id = "bench"              # else the broker gives one
//! keep-alive-s = 30
//! qos = 0                          # where a message does not say its own
//! on = "change"                    # or "period"
//! period-ms = 1000                 # how often the printer is looked at
//! will = { topic = "printer/online", text = "no" }     # kept, unless `retain = false`
//! birth = { topic = "printer/online", text = "yes" }   # likewise
//!
//! [[mqtt.topics]]
//! topic = "printer/{{ name }}"
//! each = "heaters | items"         # one message for each item
//! as = ["name", "heater"]
//! text = "{{ heater.on }}"         # or `body`, JSON as in a route
//! retain = true                    # else not kept
//! qos = 1
//!
//! [announce]                       # DNS-SD
//! service = "_coldbed._tcp"
//! instance = "Desk printer"        # else the printer's name
//! txt = { path = "/printer" }
//! ```

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
mod tests;

pub use announce_plan::{AnnouncePlan, Announcement};
pub use answer::Answer;
pub use auth::{Access, AuthScheme, KeyError};
pub use cors::Cors;
pub use error::{DialectError, DialectProblem};
pub use http_behaviour::{GzipUse, HeaderCase, HttpBehaviour, LengthForm};
pub use lint::{LintError, Warning};
pub use log_in::LogIns;
pub use mqtt_plan::{
    MAX_MESSAGES, MqttPlan, MqttProtocol, Publication, PublicationBody, PublishOn, Qos,
};
pub use order::Order;
pub use preview::Shown;
pub use problem::Problem;
pub use push_plan::{
    AtTimeout, EventStreamPlan, LongPollIds, LongPollPlan, PingPlan, PushForm, PushMessages,
    PushOn, PushPlan, WebSocketPlan,
};
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
