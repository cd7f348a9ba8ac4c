//! The keys of a watcher file, before any value is checked.
//!
//! The comment of each key is also what an editor shows, by way of the schema.

use std::net::SocketAddr;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{
    Field, Numeric, Plain, ShareUnit, Switch, TemperatureUnit, TimeUnit, WordOfFile,
};
use super::spanned::Spanned;

/// A number with its unit, or its place alone.
pub(super) type NumericField<U> = Option<Spanned<Field<Numeric<U>>>>;

/// Text, or its place alone.
pub(super) type PlainField = Option<Spanned<Field<Plain>>>;

/// A watcher: how it is started, and how its sightings are understood.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
#[schemars(rename = "Watcher")]
pub(super) struct File {
    /// Program and arguments; `{url}`, `{key}`, `{dialect}`, `{interval}`, `{authority}` and
    /// `{callback}` are replaced. Left out for a device that polls by itself.
    pub(super) command: Option<Spanned<Vec<Spanned<String>>>>,
    /// What is added to the watcher's environment; the places of `command` are replaced here too.
    pub(super) environment: Option<Spanned<IndexMap<String, Spanned<String>>>>,
    /// Where the watcher is started, relative to this file. Default this file's folder.
    pub(super) directory: Option<Spanned<String>>,
    /// How sightings are understood.
    #[serde(default)]
    pub(super) sightings: Sightings,
    /// How the watcher is told to ask something of the printer. What is left out is not judged.
    #[serde(default)]
    pub(super) commands: Commands,
}

/// How the watcher is told to ask something of the printer.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Commands {
    /// Let the print stand still.
    pub(super) pause: Option<Spanned<Way>>,
    /// Let it go on.
    pub(super) resume: Option<Spanned<Way>>,
    /// Give it up.
    pub(super) cancel: Option<Spanned<Way>>,
}

/// How the watcher is told.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Way {
    /// This line is written to the watcher's input.
    Line(String),
    /// This is run beside the watcher: program and arguments, with the places of `command`.
    Run(Vec<String>),
}

/// How sightings are understood.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Sightings {
    /// Where sightings come from. Default `stdout`.
    pub(super) from: Option<Spanned<From>>,
    /// What a line is. Default `standard`: the form without any mapping.
    pub(super) lines: Option<Spanned<Lines>>,
    /// What it means that the place of a field is not in a line: `unknown` (the default), or
    /// `stands`: what was said before goes on being claimed.
    pub(super) missing: Option<Spanned<Missing>>,
    /// Texts and values that say of any field that the watcher does not know it. `null` always does.
    pub(super) unknown: Option<Spanned<Vec<WordOfFile>>>,
    /// Where each field stands. One that is left out is not judged.
    pub(super) fields: Fields,
    /// Where the fields of each heater stand; the names are the host's.
    pub(super) heaters: IndexMap<String, Heater>,
    /// The watcher's own words for each phase.
    pub(super) words: Words,
}

/// Where sightings come from.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum From {
    /// What the command writes on its output.
    Stdout,
    /// What the command writes on its error output.
    Stderr,
    /// What a device writes on a serial line.
    Serial(Serial),
    /// What a device posts by HTTP.
    Callback(Callback),
}

/// A serial line.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Serial {
    /// The device's file, such as `/dev/ttyUSB0`.
    pub(super) device: String,
    /// Bits per second. Default 115200. Eight data bits, no parity, one stop bit.
    pub(super) baud: Option<u32>,
}

/// Where a device posts its sightings.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Callback {
    /// Address and port. Default `127.0.0.1:0`: a free port, told to the command as `{callback}`.
    #[schemars(with = "Option<String>")]
    pub(super) listen: Option<SocketAddr>,
    /// The path. Default `/sightings`.
    pub(super) path: Option<String>,
    /// What the device must show as `Authorization: Bearer KEY` (RFC 6750 section 2.1). Needed where
    /// `listen` is reachable from other machines.
    pub(super) key: Option<String>,
}

/// What a line is.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Lines {
    /// A sighting in the standard form.
    Standard,
    /// A JSON object; fields have JSON Pointers.
    Json,
    /// Text that this pattern matches; fields have the names of its groups.
    Pattern(Spanned<String>),
    /// Text that one or several of these patterns match.
    Patterns(Vec<Spanned<String>>),
}

/// What it means that the place of a field is not in a line.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Missing {
    /// The watcher does not know it.
    Unknown,
    /// What was said before stands.
    Stands,
}

/// Where each field stands.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Fields {
    /// The phase, in the watcher's words.
    pub(super) phase: PlainField,
    /// Progress. Unit `percent` (the default) or `ratio`.
    pub(super) progress_percent: NumericField<ShareUnit>,
    /// Elapsed time. Unit `seconds` by default.
    pub(super) elapsed_seconds: NumericField<TimeUnit>,
    /// Remaining time. Unit `seconds` by default.
    pub(super) remaining_seconds: NumericField<TimeUnit>,
    /// The job's name.
    pub(super) job_name: PlainField,
    /// Why the printer is in error.
    pub(super) reason: PlainField,
    /// Whether the hot parts may be touched, as the watcher says.
    pub(super) safe_to_touch: Option<Spanned<Field<Switch>>>,
}

/// Where the fields of a heater stand.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Heater {
    /// The temperature it has. Unit `celsius` (the default), `fahrenheit` or `kelvin`.
    pub(super) actual_celsius: NumericField<TemperatureUnit>,
    /// The temperature asked for; 0 Celsius is off.
    pub(super) target_celsius: NumericField<TemperatureUnit>,
    /// Whether it is on.
    pub(super) on: Option<Spanned<Field<Switch>>>,
}

/// The watcher's own words for each phase. One that is left out keeps its own word.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Words {
    /// Nothing to do.
    pub(super) idle: Vec<Spanned<WordOfFile>>,
    /// A job waits for its heaters, or somebody warms the machine by hand.
    pub(super) heating: Vec<Spanned<WordOfFile>>,
    /// The job's program runs.
    pub(super) printing: Vec<Spanned<WordOfFile>>,
    /// The job stands still and can go on.
    pub(super) paused: Vec<Spanned<WordOfFile>>,
    /// The printer stopped itself; somebody must act.
    pub(super) error: Vec<Spanned<WordOfFile>>,
    /// The job came to its end.
    pub(super) finished: Vec<Spanned<WordOfFile>>,
    /// The job was given up on request.
    pub(super) cancelled: Vec<Spanned<WordOfFile>>,
    /// The watcher does not know.
    pub(super) unknown: Vec<Spanned<WordOfFile>>,
}
