//! One route, as written.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::Spanned;
use super::{Push, Text};
use crate::dialect::argument::CommandTemplate;
use crate::dialect::check::METHODS;

/// One thing the host answers. Exactly one of `body`, `text`, `base64` and `file`, or none with
/// status 204 or 205.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Route {
    /// The method. HEAD and OPTIONS follow from the others.
    #[schemars(extend("enum" = METHODS))]
    pub(in crate::dialect) method: Text,
    /// The path; `{name}` is one piece of it, seen as `path.name`, and `{*rest}` all that is left.
    #[schemars(extend("pattern" = "^/[^?# ]*$"))]
    pub(in crate::dialect) path: Text,
    /// Which requests for the path are meant. Default all that no earlier route is for.
    #[serde(rename = "match")]
    pub(in crate::dialect) matches: Option<Spanned<Match>>,
    /// Parameters of the query, seen as `query.NAME`. Others are ignored.
    #[serde(default)]
    pub(in crate::dialect) query: IndexMap<String, Spanned<QueryParameter>>,
    /// Whether it is served without a key. Default false.
    #[serde(default)]
    pub(in crate::dialect) open: bool,
    /// What it is for, for people.
    pub(in crate::dialect) summary: Option<Text>,
    /// The status of success, 200 to 299. Default 200.
    #[schemars(range(min = 200, max = 299))]
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    /// The media type. Default by what the body is made from.
    pub(in crate::dialect) content_type: Option<Text>,
    /// Header fields of the answer, over those of every answer; they may hold `{{ expressions }}`.
    #[serde(default)]
    pub(in crate::dialect) headers: IndexMap<String, Text>,
    /// An expression: where it does not hold, the answer is a problem. Default always.
    pub(in crate::dialect) exists: Option<Text>,
    /// What the problem says then; may hold `{{ expressions }}`.
    pub(in crate::dialect) missing: Option<Text>,
    /// The problem's status then, 200 to 599. Default 404.
    #[schemars(range(min = 200, max = 599))]
    pub(in crate::dialect) missing_status: Option<Spanned<u16>>,
    /// JSON with expressions and directives in its strings.
    pub(in crate::dialect) body: Option<Text>,
    /// Any text, as one whole template.
    pub(in crate::dialect) text: Option<Text>,
    /// Bytes, in base64 (RFC 4648 section 4).
    pub(in crate::dialect) base64: Option<Text>,
    /// Bytes, in a file beside the dialect's.
    pub(in crate::dialect) file: Option<Text>,
    /// How long the client waits for the answer, in milliseconds of real time. Default 0.
    #[schemars(range(max = 600_000))]
    pub(in crate::dialect) answer_after_ms: Option<Spanned<u64>>,
    /// What is asked of the printer.
    #[schemars(extend("enum" = CommandTemplate::NAMES))]
    pub(in crate::dialect) command: Option<Text>,
    /// Where the command's arguments are: `heater` and `celsius` of `set-target`, `job` of
    /// `start-job`.
    pub(in crate::dialect) arguments: Option<Spanned<IndexMap<String, Spanned<Argument>>>>,
    /// An expression: where it does not hold, the command is refused. Default always.
    pub(in crate::dialect) when: Option<Text>,
    /// What comes of a command for what is so already. Default `refused`.
    #[schemars(extend("enum" = ["refused", "accepted"]))]
    pub(in crate::dialect) again: Option<Text>,
    /// How long the command takes to have its effect, in milliseconds of virtual time. Default 0.
    #[schemars(range(max = 3_600_000))]
    pub(in crate::dialect) effect_after_ms: Option<Spanned<u64>>,
    /// The header field that names a request, so that it is carried out only once.
    pub(in crate::dialect) idempotency_key: Option<Text>,
    /// How a command that is not carried out is answered. Default a problem.
    pub(in crate::dialect) refused: Option<Spanned<Refused>>,
    /// Makes it the call that gives a token for the key.
    pub(in crate::dialect) log_in: Option<Spanned<LogIn>>,
    /// Makes it the call that takes the token back. Default false.
    #[serde(default)]
    pub(in crate::dialect) log_out: bool,
    /// Makes it show its body again and again.
    pub(in crate::dialect) push: Option<Spanned<Push>>,
}

/// Which requests for a path are meant, where the path alone does not say it.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Match {
    /// Values of parameters of the query, by name.
    #[serde(default)]
    pub(in crate::dialect) query: IndexMap<String, String>,
    /// Values in the JSON body, by JSON Pointer (RFC 6901).
    #[serde(default)]
    #[schemars(with = "IndexMap<String, serde_json::Value>")]
    pub(in crate::dialect) body: IndexMap<String, toml::Value>,
}

/// A parameter of the query.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct QueryParameter {
    /// Its value when it is not given; left out, it has none.
    pub(in crate::dialect) default: Option<String>,
    /// Whether a request without it is answered 400. Default false.
    #[serde(default)]
    pub(in crate::dialect) required: bool,
    /// The values it may have; others are answered 400. Default any.
    pub(in crate::dialect) one_of: Option<Vec<String>>,
}

/// Where an argument is: exactly one of these.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
#[schemars(extend("minProperties" = 1, "maxProperties" = 1))]
pub(in crate::dialect) struct Argument {
    /// In the path, the name of a parameter.
    pub(in crate::dialect) path: Option<String>,
    /// In the query, the name of a parameter.
    pub(in crate::dialect) query: Option<String>,
    /// In a form in the body, the name of a field.
    pub(in crate::dialect) form: Option<String>,
    /// In a header field, its name.
    pub(in crate::dialect) header: Option<String>,
    /// In the JSON body, a JSON Pointer (RFC 6901).
    pub(in crate::dialect) body: Option<String>,
    /// In the dialect: always this value.
    #[schemars(with = "Option<serde_json::Value>")]
    pub(in crate::dialect) value: Option<toml::Value>,
    /// Worked out from the truth, `path`, `query` and `body`.
    pub(in crate::dialect) expression: Option<Text>,
}

/// How a request is answered that is understood and not followed.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct Refused {
    /// One status for every kind of refusal, 200 to 599. Default by the kind: 404, 409 or 422.
    #[schemars(range(min = 200, max = 599))]
    pub(in crate::dialect) status: Option<Spanned<u16>>,
    /// The media type. Default `application/json` with a body of its own, else that of problems.
    pub(in crate::dialect) content_type: Option<Text>,
    /// JSON with expressions, which see `refusal.kind`, `refusal.detail`, `refusal.status` and
    /// `refusal.title` besides the truth. Default the body of problems.
    pub(in crate::dialect) body: Option<Text>,
}

/// Where a log-in call has the key, and the user's name if one is asked for.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(in crate::dialect) struct LogIn {
    /// The key.
    pub(in crate::dialect) key: Spanned<Argument>,
    /// The user's name. Default none is asked for.
    pub(in crate::dialect) user: Option<Spanned<Argument>>,
}
