//! Where a host's bodies show a quantity: found by changing the truth and looking what changes.
//!
//! Whatever a body is built of, this needs no mark in the file: a leaf that follows every change of
//! a quantity shows it.

use std::collections::BTreeMap;

use serde_json::Value;

use super::Dialect;
use super::filled::{self, parameters};
use super::render::Rendered;
use super::route::{Matched, RouteId, RouteKind};
use crate::pointer;
use crate::sim::Truth;

/// Names something that bodies show.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// The actual temperature of the heater of that name.
    Actual(String),
    /// The target of the heater of that name.
    Target(String),
    /// The progress of the job.
    Progress,
}

/// The values a quantity is given, in degrees or percent: apart by more than any host rounds, and
/// none a round number that something else could be.
const TRIED: [f64; 4] = [31.25, 47.75, 68.5, 93.125];

impl Quantity {
    /// Gives the truth with another value; `None` when it has no such quantity.
    fn put(&self, truth: &Truth, value: f64) -> Option<Truth> {
        let mut truth = truth.clone();
        match self {
            Self::Actual(heater) => {
                let heater = truth.heaters.get_mut(heater)?;
                heater.actual_celsius = Some(value);
                heater.true_celsius = value;
            }
            Self::Target(heater) => truth.heaters.get_mut(heater)?.target_celsius = value,
            Self::Progress => truth.job.as_mut()?.progress_percent = value,
        }
        Some(truth)
    }
}

impl Dialect {
    /// Gives the places, as JSON Pointers (RFC 6901), at which the bodies of GET and push routes
    /// show a quantity at a truth, each once, in order.
    ///
    /// A place counts when its value is another one for each value of the quantity, so a flag that
    /// only depends on it does not.
    pub fn places_of(&self, quantity: &Quantity, truth: &Truth) -> Vec<String> {
        let mut places = Vec::new();
        for (index, route) in self.routes.iter().enumerate() {
            if !matches!(route.kind, RouteKind::Body | RouteKind::Push(_)) {
                continue;
            }
            for matched in self.ways_to_ask(RouteId(index), truth) {
                places.extend(self.places_in(&matched, quantity, truth));
            }
        }
        places.sort();
        places.dedup();
        places
    }

    /// Gives the requests for a route, with every name there is for the parameters of its path.
    fn ways_to_ask(&self, route: RouteId, truth: &Truth) -> Vec<Matched> {
        let mut values = vec![String::new()];
        if !parameters(&self.of(route).path).is_empty() {
            values = filled::names(truth).collect();
            values.extend((0..truth.heaters.len()).map(|index| index.to_string()));
        }
        filled::with_each(self, route, values)
    }

    fn places_in(&self, matched: &Matched, quantity: &Quantity, truth: &Truth) -> Vec<String> {
        let mut seen: BTreeMap<String, Vec<Value>> = BTreeMap::new();
        for value in TRIED {
            let Some(truth) = quantity.put(truth, value) else {
                return Vec::new();
            };
            if let Ok(Rendered::Body(body)) = self.render(matched, &truth) {
                leaves(&body, String::new(), &mut seen);
            }
        }
        let follows = |values: &Vec<Value>| {
            let mut distinct: Vec<&Value> = Vec::new();
            for value in values {
                if !distinct.contains(&value) {
                    distinct.push(value);
                }
            }
            distinct.len() == TRIED.len()
        };
        seen.into_iter()
            .filter(|(_, values)| follows(values))
            .map(|(place, _)| place)
            .collect()
    }
}

fn leaves(value: &Value, place: String, seen: &mut BTreeMap<String, Vec<Value>>) {
    match value {
        Value::Object(members) => {
            for (name, value) in members {
                leaves(value, pointer::join(&place, name), seen);
            }
        }
        Value::Array(items) => {
            for (index, value) in items.iter().enumerate() {
                leaves(value, format!("{place}/{index}"), seen);
            }
        }
        leaf => seen.entry(place).or_default().push(leaf.clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dialect::sample;

    fn places(dialect: &str, quantity: &Quantity) -> Vec<String> {
        let printing = &sample::samples()[4].truth;
        let dialect = Dialect::builtin(dialect).unwrap();
        dialect.places_of(quantity, printing)
    }

    #[test]
    fn plain_shows_each_quantity_where_its_description_says() {
        let target = Quantity::Target("extruder".to_owned());
        assert_eq!(
            places("plain", &target),
            ["/heaters/extruder/target-celsius", "/target-celsius"]
        );
        let actual = Quantity::Actual("platform".to_owned());
        assert_eq!(
            places("plain", &actual),
            ["/actual-celsius", "/heaters/platform/actual-celsius"]
        );
        assert_eq!(
            places("plain", &Quantity::Progress),
            ["/job/progress-percent", "/progress-percent"]
        );
    }

    #[test]
    fn what_there_is_not_is_shown_nowhere() {
        let nobody = Quantity::Target("nobody".to_owned());
        assert!(places("plain", &nobody).is_empty());
        let idle = &sample::samples()[0].truth;
        let dialect = Dialect::builtin("plain").unwrap();
        assert!(dialect.places_of(&Quantity::Progress, idle).is_empty());
    }

    #[test]
    fn a_flag_that_depends_on_a_quantity_does_not_show_it() {
        let text = r#"
auth = { scheme = "none" }
problem = { body = '1' }

[[routes]]
method = "GET"
path = "/"
body = '''
{
  "a~/b": ["{{ heaters.extruder.target_celsius | whole }} C"],
  "hot": "{{ heaters.extruder.target_celsius > 50 }}"
}
'''
"#;
        let dialect = Dialect::parse("mine", text).unwrap();
        let target = Quantity::Target("extruder".to_owned());
        let idle = &sample::samples()[0].truth;
        assert_eq!(dialect.places_of(&target, idle), ["/a~0~1b/0"]);
    }
}
