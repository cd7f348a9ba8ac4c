//! Bodies read back: what a host's body says, by the dialect that describes it.
//!
//! Found as [`Quantity`]'s places are, by changing the truth and looking what changes: a leaf that
//! follows a quantity is read by the line through what it showed, a word by the phases that show it.
//! So a body that was recorded of a real host can be read, though its truth is nobody's.

mod number;
mod phases;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use serde_json::Value;

use super::Dialect;
use super::sample;
use super::whereabouts::Quantity;
use crate::sim::{Phase, Truth};

use number::NumberReader;
use phases::PhaseReader;

/// Is what a body says of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub enum Told<T> {
    /// This. Of a number shown rounded, everything up to `slack` from it.
    Value {
        /// The value, in the unit of the truth.
        value: T,
        /// How far a number may be from it by the rounding of its form; 0 of what is no number.
        slack: f64,
    },
    /// Nothing: its place is `null` or not there.
    Unknown,
    /// Something that the dialect never says there, in the body's own words.
    Unreadable(String),
}

/// Is what a body says of all quantities that its route shows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reading {
    /// The phases that show themselves so; more than one where the dialect does not tell them apart.
    pub phase: Option<Told<Vec<Phase>>>,
    /// Numbers, by quantity. °C, percent, seconds.
    pub numbers: Vec<(Quantity, Told<f64>)>,
    /// Words and flags, by quantity: the job's name, on or off.
    pub values: Vec<(Quantity, Told<Value>)>,
}

/// Reads the bodies of one dialect.
#[derive(Debug)]
pub struct BodyReader {
    /// By path, as it is asked for.
    routes: BTreeMap<String, RouteReader>,
}

/// Reads the bodies of one route.
#[derive(Debug)]
struct RouteReader {
    phases: Option<PhaseReader>,
    numbers: Vec<(Quantity, NumberReader)>,
    /// The places of words and flags, with the values tried and how they were shown.
    values: Vec<(Quantity, String)>,
}

impl Dialect {
    /// Makes a reader of this dialect's bodies, for a printer with an extruder and a platform.
    ///
    /// Routes whose bodies are no JSON, and quantities that are shown in a form that follows none of
    /// the usual ones (a number in any scale, with words around it, `h:mm:ss`, ISO 8601), are not read.
    pub fn reader(&self) -> BodyReader {
        let samples = sample::samples();
        let with_job = samples
            .iter()
            .find(|sample| sample.truth.phase == Phase::Printing);
        let Some(printing) = with_job.map(|sample| &sample.truth) else {
            return BodyReader {
                routes: BTreeMap::new(),
            };
        };
        let idle = &samples[0].truth;
        let mut routes = BTreeMap::new();
        for matched in self.requests_at(printing, |_| true) {
            let path = self.path_of(&matched);
            let shown = |truth: &Truth| self.body_of(&matched, truth);
            let reader = RouteReader::of(&shown, printing, idle);
            if reader.reads_anything() {
                routes.insert(path, reader);
            }
        }
        BodyReader { routes }
    }
}

impl BodyReader {
    /// Gives the paths whose bodies are read.
    pub fn paths(&self) -> impl Iterator<Item = &str> {
        self.routes.keys().map(String::as_str)
    }

    /// Gives what a body says that was sent for a path; `None` for a path that is not read.
    pub fn read(&self, path: &str, body: &Value) -> Option<Reading> {
        let route = self.routes.get(path)?;
        let value = |(quantity, place): &(Quantity, String)| {
            let told = match body.pointer(place) {
                None | Some(Value::Null) => Told::Unknown,
                Some(value) => Told::Value {
                    value: value.clone(),
                    slack: 0.0,
                },
            };
            (quantity.clone(), told)
        };
        Some(Reading {
            phase: route.phases.as_ref().map(|phases| phases.read(body)),
            numbers: (route.numbers.iter())
                .map(|(quantity, reader)| (quantity.clone(), reader.read(body)))
                .collect(),
            values: route.values.iter().map(value).collect(),
        })
    }
}

impl RouteReader {
    fn of(shown: &dyn Fn(&Truth) -> Option<Value>, printing: &Truth, idle: &Truth) -> Self {
        let mut numbers = Vec::new();
        for quantity in quantities(printing) {
            if let Some(reader) = NumberReader::of(&quantity, shown, printing) {
                numbers.push((quantity, reader));
            }
        }
        // A name is read only as it is; a flag only where it is one.
        let mut values = Vec::new();
        let names = Quantity::JobName.tried(printing);
        if let Some(place) = literal_place(&names, shown, |truth| {
            truth.job.as_ref().map(|job| Value::from(job.name.clone()))
        }) {
            values.push((Quantity::JobName, place));
        }
        for heater in printing.heaters.keys() {
            let on = Quantity::On(heater.clone());
            let variants = on.tried(printing);
            let literal = |truth: &Truth| truth.heaters.get(heater).map(|heater| heater.on.into());
            if let Some(place) = literal_place(&variants, shown, literal) {
                values.push((on, place));
            }
        }
        Self {
            phases: PhaseReader::of(shown, printing, idle),
            numbers,
            values,
        }
    }

    fn reads_anything(&self) -> bool {
        self.phases.is_some() || !self.numbers.is_empty() || !self.values.is_empty()
    }
}

/// Gives the quantities that are numbers.
fn quantities(truth: &Truth) -> Vec<Quantity> {
    let heaters = truth.heaters.keys();
    heaters
        .flat_map(|name| {
            [
                Quantity::Actual(name.clone()),
                Quantity::Target(name.clone()),
            ]
        })
        .chain([Quantity::Progress, Quantity::Elapsed, Quantity::Remaining])
        .collect()
}

/// Gives the first place that shows just the value for each variant.
fn literal_place(
    variants: &[Truth],
    shown: &dyn Fn(&Truth) -> Option<Value>,
    literal: impl Fn(&Truth) -> Option<Value>,
) -> Option<String> {
    let bodies: Option<Vec<Value>> = variants.iter().map(shown).collect();
    let (bodies, literals) = (
        bodies?,
        variants.iter().map(literal).collect::<Option<Vec<_>>>()?,
    );
    let first = bodies.first()?;
    let candidates = leaves(first, false);
    let follows = |place: &&String| {
        bodies
            .iter()
            .zip(&literals)
            .all(|(body, literal)| body.pointer(place) == Some(literal))
    };
    candidates.keys().find(follows).cloned()
}

/// Gives the leaves of a body by place.
fn leaves(body: &Value, lists_are_leaves: bool) -> BTreeMap<String, Value> {
    let mut leaves = BTreeMap::new();
    super::whereabouts::collect(body, String::new(), lists_are_leaves, &mut leaves);
    leaves
}
