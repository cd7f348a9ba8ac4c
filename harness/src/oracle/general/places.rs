//! Where bodies show what, as far as it is known.

use coldbed_mock::dialect::{Dialect, Quantity};
use coldbed_mock::drift::generate::places;
use coldbed_mock::sim::Truth;
use serde_json::Value;

use super::answers::Told;
use super::troubles::Span;

/// Names a quantity that is claimed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum About {
    /// The phase.
    Phase,
    /// A heater's actual temperature.
    Actual(String),
    /// A heater's target.
    Target(String),
    /// Whether a heater is on.
    On(String),
    /// Progress.
    Progress,
    /// Elapsed time.
    Elapsed,
    /// Remaining time.
    Remaining,
    /// The job's name.
    JobName,
}

/// Says where a drift lands, seen from a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Landing {
    /// Where the quantity stands, or below it; also where it may stand, for all that is known.
    At,
    /// On something that the quantity is a part of.
    Above,
    /// Somewhere else.
    Beside,
}

/// Knows the places of some quantities in the bodies of a dialect.
#[derive(Debug, Default)]
pub(super) struct Places {
    known: Vec<(Quantity, Vec<String>)>,
    /// Where the reasons stand that phases are told apart by: an unknown word there says nothing.
    reasons: Vec<String>,
    /// The bodies of a printer without a job.
    without_job: Vec<Value>,
}

impl Places {
    /// Looks for the places, if there are drifts for which somebody will ask.
    pub(super) fn of(dialect: &Dialect, told: &[Told<'_>], spans: &[Span]) -> Self {
        let has_job = |told: &&Told<'_>| told.truth.job.is_some();
        let fullest = told.iter().find(has_job).or(told.first());
        match fullest {
            Some(told) if spans.iter().any(|span| span.drift().is_some()) => {
                Self::at(dialect, told.truth)
            }
            _ => Self::default(),
        }
    }

    fn at(dialect: &Dialect, truth: &Truth) -> Self {
        let known = numbers_of_heaters(truth)
            .chain([Quantity::Progress])
            .map(|quantity| {
                let places = dialect.places_of(&quantity, truth);
                (quantity, places)
            })
            .collect();
        let without_job = Truth {
            job: None,
            ..truth.clone()
        };
        Self {
            known,
            reasons: places_of_reasons(dialect, truth),
            without_job: bodies(dialect, &without_job),
        }
    }

    /// Tells whether a pointer leads to one of the reasons, or into it.
    pub(super) fn is_reason(&self, pointer: &str) -> bool {
        let mut reasons = self.reasons.iter();
        reasons.any(|place| landing_at(pointer, place) == Landing::At)
    }

    /// Tells whether null is what the dialect itself has there for a printer without a job.
    pub(super) fn is_null_without_job(&self, pointer: &str) -> bool {
        let mut bodies = self.without_job.iter();
        bodies.any(|body| body.pointer(pointer).is_some_and(Value::is_null))
    }

    /// Tells whether the dialect itself leaves that member out for a printer without a job.
    pub(super) fn is_missing_without_job(&self, pointer: &str) -> bool {
        let Some((parent, _)) = pointer.rsplit_once('/') else {
            return false;
        };
        self.without_job.iter().any(|body| {
            let has_parent = body.pointer(parent).is_some_and(Value::is_object);
            has_parent && body.pointer(pointer).is_none()
        })
    }

    /// Says where a pointer lands, seen from a quantity.
    ///
    /// Of the words and times nobody knows where they stand: anywhere but where something else does.
    pub(super) fn landing(&self, pointer: &str, about: &About) -> Landing {
        let own = match about {
            // Whether it is on follows from the target.
            About::Target(name) | About::On(name) => Some(Quantity::Target(name.clone())),
            About::Actual(name) => Some(Quantity::Actual(name.clone())),
            About::Progress => Some(Quantity::Progress),
            About::Phase | About::Elapsed | About::Remaining | About::JobName => None,
        };
        let own = self
            .known
            .iter()
            .find(|(quantity, _)| Some(quantity) == own.as_ref());
        if let Some((_, places)) = own.filter(|(_, places)| !places.is_empty()) {
            let landings = places.iter().map(|place| landing_at(pointer, place));
            return landings
                .min_by_key(|landing| *landing as u8)
                .unwrap_or(Landing::Beside);
        }
        if pointer.is_empty() {
            return Landing::Above;
        }
        let mut others = self.known.iter().flat_map(|(_, places)| places);
        match others.any(|place| landing_at(pointer, place) == Landing::At) {
            true => Landing::Beside,
            false => Landing::At,
        }
    }
}

fn numbers_of_heaters(truth: &Truth) -> impl Iterator<Item = Quantity> {
    let heaters = truth.heaters.keys();
    heaters.flat_map(|name| {
        [
            Quantity::Actual(name.clone()),
            Quantity::Target(name.clone()),
        ]
    })
}

/// Gives the pointers of the objects whose members are objects with a heater's numbers.
pub(super) fn maps_of_heaters(dialect: &Dialect, truth: &Truth) -> Vec<String> {
    let places = numbers_of_heaters(truth).flat_map(|quantity| dialect.places_of(&quantity, truth));
    let map_of = |place: String| {
        let (heater, _) = place.rsplit_once('/')?;
        let (map, _) = heater.rsplit_once('/')?;
        (!map.is_empty()).then(|| map.to_owned())
    };
    places.filter_map(map_of).collect()
}

fn landing_at(pointer: &str, place: &str) -> Landing {
    let is_below = |below: &str, above: &str| {
        below
            .strip_prefix(above)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
    };
    if is_below(pointer, place) {
        Landing::At
    } else if is_below(place, pointer) {
        Landing::Above
    } else {
        Landing::Beside
    }
}

/// Gives the bodies that a dialect shows of a truth.
fn bodies(dialect: &Dialect, truth: &Truth) -> Vec<Value> {
    let shown = dialect.preview(truth).into_iter();
    shown
        .filter_map(|shown| serde_json::from_str(&shown.text).ok())
        .collect()
}

/// Gives the leaves that are others, or that are there or not, as the reasons are.
fn places_of_reasons(dialect: &Dialect, truth: &Truth) -> Vec<String> {
    let with = |reasons: &[&str]| {
        let mut truth = truth.clone();
        let reasons: Vec<String> = reasons.iter().map(|&reason| reason.to_owned()).collect();
        truth.printer.reasons.clone_from(&reasons);
        if let Some(job) = &mut truth.job {
            job.reasons = reasons;
        }
        let bodies = bodies(dialect, &truth);
        bodies.iter().map(leaves).collect::<Vec<_>>()
    };
    let (some, none) = (with(&["paused", "material-empty"]), with(&[]));
    let mut places: Vec<String> = Vec::new();
    for (some, none) in some.iter().zip(&none) {
        let others = some.iter().filter(|leaf| !none.contains(leaf));
        let gone = none.iter().filter(|leaf| !some.contains(leaf));
        places.extend(others.chain(gone).map(|(place, _)| place.clone()));
    }
    places.sort();
    places.dedup();
    places
}

/// Gives what is no container, with its pointer.
fn leaves(body: &Value) -> Vec<(String, Value)> {
    let pointers = places(body).into_iter();
    pointers
        .filter_map(|pointer| {
            let value = body.pointer(&pointer)?;
            let is_leaf = !value.is_object() && !value.is_array();
            is_leaf.then(|| (pointer, value.clone()))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::time::Duration;

    use coldbed_mock::sim::{Simulation, VirtualTime};

    use super::*;

    impl Places {
        /// Gives the places of the plain dialect in the middle of a print.
        pub(in crate::oracle::general) fn of_plain(plain: &Dialect) -> Self {
            let scenario = crate::check::scenario("many-jobs");
            let mut simulation = Simulation::new(Arc::clone(&scenario), 1);
            let truth = simulation.truth_at(VirtualTime::new(Duration::from_secs(300)));
            Self::at(plain, &truth)
        }
    }

    fn plain() -> Places {
        Places::of_plain(&Dialect::builtin("plain").unwrap())
    }

    #[test]
    fn a_pointer_lands_on_what_stands_there_above_its_members_or_beside() {
        let places = plain();
        let target = About::Target("extruder".to_owned());
        for (pointer, landing) in [
            ("/heaters/extruder/target-celsius", Landing::At),
            ("/heaters/extruder", Landing::Above),
            ("", Landing::Above),
            ("/heaters/platform", Landing::Beside),
            ("/job/job-state", Landing::Beside),
        ] {
            assert_eq!(places.landing(pointer, &target), landing, "{pointer}");
        }
        assert_eq!(places.landing("/job/job-state", &About::Phase), Landing::At);
        let elsewhere = places.landing("/job/progress-percent", &About::Phase);
        assert_eq!(elsewhere, Landing::Beside);
    }

    #[test]
    fn what_tells_phases_apart_is_found_where_the_dialect_shows_it() {
        let places = plain();
        assert!(places.is_reason("/printer-state-reasons/0"));
        assert!(!places.is_reason("/job/job-state"));
        assert!(places.is_null_without_job("/job"));
        assert!(!places.is_null_without_job("/printer-state"));
        assert!(!places.is_missing_without_job("/job/job-state"));
    }
}
