//! The scenarios that checks are judged on: the built-in ones, and some made for checks alone.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use coldbed_mock::scenario::Scenario;

/// Scenarios made for checks, by name; not in `coldbed list`, since nobody would rehearse them.
const OWN: [(&str, &str); 9] = [
    ("four-heaters", include_str!("scenarios/four-heaters.toml")),
    ("many-jobs", include_str!("scenarios/many-jobs.toml")),
    (
        "missed-phases",
        include_str!("scenarios/missed-phases.toml"),
    ),
    ("names", include_str!("scenarios/names.toml")),
    ("one-heater", include_str!("scenarios/one-heater.toml")),
    (
        "over-midnight",
        include_str!("scenarios/over-midnight.toml"),
    ),
    (
        "print-of-days",
        include_str!("scenarios/print-of-days.toml"),
    ),
    (
        "up-for-25-days",
        include_str!("scenarios/up-for-25-days.toml"),
    ),
    (
        "up-for-50-days",
        include_str!("scenarios/up-for-50-days.toml"),
    ),
];

/// Gives a scenario that checks are judged on.
///
/// # Panics
/// On a name that is none, and on a scenario that is wrong: both are slips of the catalogue.
pub fn scenario(name: &str) -> Arc<Scenario> {
    // Hundreds of runs ask for a dozen of them.
    static READ: Mutex<Option<HashMap<String, Arc<Scenario>>>> = Mutex::new(None);
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    let known = read.get_or_insert_default();
    Arc::clone(
        known
            .entry(name.to_owned())
            .or_insert_with(|| Arc::new(read_scenario(name))),
    )
}

fn read_scenario(name: &str) -> Scenario {
    let own = OWN.iter().find(|(own, _)| *own == name);
    let scenario = match own {
        Some((_, text)) => Some(Scenario::parse(name, text)),
        None => Scenario::builtin(name),
    };
    match scenario {
        Some(Ok(scenario)) => scenario,
        Some(Err(error)) => panic!("scenario `{name}` of the catalogue: {error}"),
        None => panic!("the catalogue has no scenario `{name}`"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_scenario_made_for_checks_is_sound() {
        for (name, _) in OWN {
            assert!(scenario(name).length.0 > 0, "{name}");
        }
    }
}
