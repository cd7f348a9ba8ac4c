//! Where a host's bodies show a quantity: found by changing the truth and looking what changes.
//!
//! Whatever a body is built of, this needs no mark in the file: a leaf that follows every change of
//! a quantity shows it.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::Dialect;
use super::filled::{self, parameters};
use super::render::Rendered;
use super::route::{Matched, RouteId, RouteKind};
use crate::pointer;
use crate::sim::{JobState, Phase, PrinterState, Truth};

/// Names something that bodies show.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// The actual temperature of the heater of that name.
    Actual(String),
    /// The target of the heater of that name.
    Target(String),
    /// Whether the heater of that name is on, where a body says so itself.
    On(String),
    /// The progress of the job.
    Progress,
    /// The job's elapsed time.
    Elapsed,
    /// The job's remaining time.
    Remaining,
    /// The job's name.
    JobName,
    /// What the phase is read from: the states of the printer and of the job, and their reasons.
    Phase,
}

/// The values a quantity is given, in degrees, percent or minutes: apart by more than any host
/// rounds, and none a round number that something else could be.
const TRIED: [f64; 4] = [31.25, 47.75, 68.5, 93.125];

/// The names a job is given.
const NAMES: [&str; 4] = ["tried clip", "tried hook", "tried knob", "tried lid"];

/// Is how the printer and its job say a phase; reasons are keywords of the IANA IPP registry.
struct Said {
    phase: Phase,
    printer: PrinterState,
    reasons: &'static [&'static str],
    job: JobState,
    job_reasons: &'static [&'static str],
    /// Whether the phase is there without a job, too.
    without_job: bool,
}

const PHASES: [Said; 7] = [
    Said {
        phase: Phase::Idle,
        printer: PrinterState::Idle,
        reasons: &[],
        job: JobState::Pending,
        job_reasons: &[],
        without_job: true,
    },
    Said {
        phase: Phase::Heating,
        printer: PrinterState::Processing,
        reasons: &["extruder-heating-report", "platform-heating-report"],
        job: JobState::Processing,
        job_reasons: &["job-printing"],
        without_job: true,
    },
    Said {
        phase: Phase::Printing,
        printer: PrinterState::Processing,
        reasons: &[],
        job: JobState::Processing,
        job_reasons: &["job-printing"],
        without_job: false,
    },
    Said {
        phase: Phase::Paused,
        printer: PrinterState::Stopped,
        reasons: &["paused"],
        job: JobState::ProcessingStopped,
        job_reasons: &["printer-stopped"],
        without_job: false,
    },
    Said {
        phase: Phase::Error,
        printer: PrinterState::Stopped,
        reasons: &["extruder-temperature-high"],
        job: JobState::Aborted,
        job_reasons: &["aborted-by-system"],
        without_job: true,
    },
    Said {
        phase: Phase::Finished,
        printer: PrinterState::Idle,
        reasons: &[],
        job: JobState::Completed,
        job_reasons: &["job-completed-successfully"],
        without_job: false,
    },
    Said {
        phase: Phase::Cancelled,
        printer: PrinterState::Idle,
        reasons: &[],
        job: JobState::Canceled,
        job_reasons: &["job-canceled-by-user"],
        without_job: false,
    },
];

impl Quantity {
    /// Gives truths that differ in this alone; none when there is no such quantity.
    fn variants(&self, truth: &Truth) -> Vec<Truth> {
        match self {
            Self::On(heater) => [false, true]
                .into_iter()
                .filter_map(|on| {
                    let mut truth = truth.clone();
                    truth.heaters.get_mut(heater)?.on = on;
                    Some(truth)
                })
                .collect(),
            Self::Phase => PHASES.iter().filter_map(|said| said.of(truth)).collect(),
            _ => (0..TRIED.len())
                .filter_map(|index| self.put(truth, index))
                .collect(),
        }
    }

    /// Gives the truth with another value; `None` when it has no such quantity.
    fn put(&self, truth: &Truth, index: usize) -> Option<Truth> {
        let mut truth = truth.clone();
        let value = TRIED[index];
        // Hosts that show whole minutes must show another one each time, too.
        let seconds = 60.0 * value;
        match self {
            Self::Actual(heater) => {
                let heater = truth.heaters.get_mut(heater)?;
                heater.actual_celsius = Some(value);
                heater.true_celsius = value;
            }
            Self::Target(heater) => truth.heaters.get_mut(heater)?.target_celsius = value,
            Self::Progress => truth.job.as_mut()?.progress_percent = value,
            Self::Elapsed => truth.job.as_mut()?.elapsed_seconds = seconds,
            Self::Remaining => truth.job.as_mut()?.remaining_seconds = Some(seconds),
            Self::JobName => NAMES[index].clone_into(&mut truth.job.as_mut()?.name),
            Self::On(_) | Self::Phase => return None,
        }
        Some(truth)
    }

    /// Tells whether what was seen at a place, variant by variant, shows the quantity.
    fn is_shown_by(&self, values: &[Option<&Value>]) -> bool {
        let mut distinct: Vec<&Option<&Value>> = Vec::new();
        for value in values {
            if !distinct.contains(&value) {
                distinct.push(value);
            }
        }
        match self {
            // Several phases may well share a word.
            Self::On(_) | Self::Phase => distinct.len() > 1,
            _ => distinct.len() == values.len() && values.iter().all(Option::is_some),
        }
    }
}

impl Quantity {
    /// Gives the truths that [`super::reading`] looks at: each with another value of this.
    pub(super) fn tried(&self, truth: &Truth) -> Vec<Truth> {
        self.variants(truth)
    }

    /// Gives the number of this that a truth has, in the truth's unit.
    pub(super) fn number_in(&self, truth: &Truth) -> Option<f64> {
        match self {
            Self::Actual(heater) => truth.heaters.get(heater)?.actual_celsius,
            Self::Target(heater) => Some(truth.heaters.get(heater)?.target_celsius),
            Self::Progress => Some(truth.job.as_ref()?.progress_percent),
            Self::Elapsed => Some(truth.job.as_ref()?.elapsed_seconds),
            Self::Remaining => truth.job.as_ref()?.remaining_seconds,
            Self::On(_) | Self::JobName | Self::Phase => None,
        }
    }
}

impl Said {
    /// Gives the truth in this phase, all else as it was; `None` when it cannot be.
    fn of(&self, truth: &Truth) -> Option<Truth> {
        let owned = |reasons: &[&str]| reasons.iter().map(|&reason| reason.to_owned()).collect();
        let mut truth = truth.clone();
        truth.phase = self.phase;
        truth.printer.state = self.printer;
        truth.printer.reasons = owned(self.reasons);
        match &mut truth.job {
            Some(job) => {
                job.state = self.job;
                job.reasons = owned(self.job_reasons);
            }
            None if self.without_job => {}
            None => return None,
        }
        Some(truth)
    }
}

impl Dialect {
    /// Gives the places, as JSON Pointers (RFC 6901), at which the bodies of GET and push routes
    /// show a quantity at a truth, each once, in order.
    ///
    /// A place counts when its value is another one for each value of the quantity, so a flag that
    /// only depends on it does not. Of the phase and of on and off it is enough that the value is not
    /// always the same; a list of words is then one place.
    pub fn places_of(&self, quantity: &Quantity, truth: &Truth) -> Vec<String> {
        self.places_at(quantity, truth, |_| true)
    }

    /// Gives the places as [`Dialect::places_of`] does, of the routes whose path is asked for.
    pub fn places_at(
        &self,
        quantity: &Quantity,
        truth: &Truth,
        is_asked: impl Fn(&str) -> bool,
    ) -> Vec<String> {
        let mut places = Vec::new();
        for matched in self.requests_at(truth, is_asked) {
            places.extend(self.places_in(&matched, quantity, truth));
        }
        places.sort();
        places.dedup();
        places
    }

    /// Gives the JSON bodies that GET and push routes show at a truth, of the routes whose path is
    /// asked for, each once, the largest first.
    pub fn bodies_at(&self, truth: &Truth, is_asked: impl Fn(&str) -> bool) -> Vec<Value> {
        let mut bodies: Vec<Value> = Vec::new();
        for matched in self.requests_at(truth, is_asked) {
            if let Ok(Rendered::Body(body)) = self.render(&matched, truth)
                && !bodies.contains(&body)
            {
                bodies.push(body);
            }
        }
        bodies.sort_by_key(|body| std::cmp::Reverse(body.to_string().len()));
        bodies
    }

    pub(super) fn requests_at(
        &self,
        truth: &Truth,
        is_asked: impl Fn(&str) -> bool,
    ) -> Vec<Matched> {
        let mut requests = Vec::new();
        for (index, route) in self.routes.iter().enumerate() {
            let shows = matches!(route.kind, RouteKind::Body | RouteKind::Push(_));
            if !shows || route.method != http::Method::GET {
                continue;
            }
            let ways = self.ways_to_ask(RouteId(index), truth);
            let asked = |matched: &Matched| is_asked(&self.path_of(matched));
            requests.extend(ways.into_iter().filter(asked));
        }
        requests
    }

    /// Gives the path of a request, its parameters filled.
    pub(super) fn path_of(&self, matched: &Matched) -> String {
        let mut path = self.of(matched.route).path.clone();
        for (name, value) in &matched.path.0 {
            let value = value.as_deref().unwrap_or_default();
            path = path.replace(&format!("{{{name}}}"), value);
            path = path.replace(&format!("{{*{name}}}"), value);
        }
        path
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

    /// Gives the JSON body that a request is answered with at a truth; `None` if it is none.
    pub(super) fn body_of(&self, matched: &Matched, truth: &Truth) -> Option<Value> {
        match self.render(matched, truth) {
            Ok(Rendered::Body(body)) => Some(body),
            _ => None,
        }
    }

    fn places_in(&self, matched: &Matched, quantity: &Quantity, truth: &Truth) -> Vec<String> {
        let lists_are_leaves = *quantity == Quantity::Phase;
        let mut seen: Vec<BTreeMap<String, Value>> = Vec::new();
        for truth in quantity.variants(truth) {
            if let Ok(Rendered::Body(body)) = self.render(matched, &truth) {
                let mut leaves = BTreeMap::new();
                collect(&body, String::new(), lists_are_leaves, &mut leaves);
                seen.push(leaves);
            }
        }
        let places: BTreeSet<&String> = seen.iter().flat_map(BTreeMap::keys).collect();
        places
            .into_iter()
            .filter(|place| {
                let values: Vec<_> = seen.iter().map(|leaves| leaves.get(*place)).collect();
                quantity.is_shown_by(&values)
            })
            .cloned()
            .collect()
    }
}

/// Collects the leaves of a body by place; a list of nothing but leaves may be one itself.
pub(super) fn collect(
    value: &Value,
    place: String,
    lists_are_leaves: bool,
    leaves: &mut BTreeMap<String, Value>,
) {
    match value {
        Value::Object(members) => {
            for (name, value) in members {
                collect(value, pointer::join(&place, name), lists_are_leaves, leaves);
            }
        }
        Value::Array(items) if !(lists_are_leaves && items.iter().all(is_leaf)) => {
            for (index, value) in items.iter().enumerate() {
                collect(value, format!("{place}/{index}"), lists_are_leaves, leaves);
            }
        }
        leaf => {
            leaves.insert(place, leaf.clone());
        }
    }
}

fn is_leaf(value: &Value) -> bool {
    !value.is_object() && !value.is_array()
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

    fn sorted<const N: usize>(mut places: [String; N]) -> [String; N] {
        places.sort();
        places
    }

    #[test]
    fn plain_shows_the_times_and_the_name_in_the_job() {
        for (quantity, member) in [
            (Quantity::Elapsed, "elapsed-seconds"),
            (Quantity::Remaining, "remaining-seconds"),
            (Quantity::JobName, "job-name"),
        ] {
            assert_eq!(
                places("plain", &quantity),
                sorted([format!("/job/{member}"), format!("/{member}")])
            );
        }
        // On follows from the target.
        assert!(places("plain", &Quantity::On("extruder".to_owned())).is_empty());
    }

    #[test]
    fn plain_tells_the_phase_by_states_and_lists_of_reasons() {
        assert_eq!(
            places("plain", &Quantity::Phase),
            [
                "/job-state",
                "/job-state-reasons",
                "/job/job-state",
                "/job/job-state-reasons",
                "/printer-state",
                "/printer-state-reasons",
            ]
        );
    }

    #[test]
    fn without_a_job_the_phase_is_read_from_the_printer_alone() {
        let idle = &sample::samples()[0].truth;
        let dialect = Dialect::builtin("plain").unwrap();
        assert_eq!(
            dialect.places_of(&Quantity::Phase, idle),
            ["/printer-state", "/printer-state-reasons"]
        );
    }

    #[test]
    fn senml_shows_each_quantity_in_a_record_of_its_own() {
        let printing = &sample::samples()[4].truth;
        let dialect = Dialect::builtin("senml").unwrap();
        let pack = &dialect.bodies_at(printing, |path| path == "/senml")[0];
        for (quantity, name) in [
            (
                Quantity::Actual("extruder".to_owned()),
                "heaters/extruder/actual",
            ),
            (
                Quantity::Target("platform".to_owned()),
                "heaters/platform/target",
            ),
            (Quantity::On("extruder".to_owned()), "heaters/extruder/on"),
            (Quantity::Progress, "job/progress"),
            (Quantity::Elapsed, "job/elapsed"),
            (Quantity::Remaining, "job/remaining"),
            (Quantity::JobName, "job/name"),
        ] {
            let places = dialect.places_at(&quantity, printing, |path| path == "/senml");
            let [place] = &places[..] else {
                panic!("{name}: {places:?}");
            };
            let (record, _) = place.rsplit_once('/').unwrap();
            assert_eq!(pack.pointer(record).unwrap()["n"], name);
        }
        assert_eq!(
            dialect.places_at(&Quantity::Phase, printing, |path| path == "/senml"),
            ["/0/vs", "/1/vs"]
        );
    }

    #[test]
    fn only_the_routes_that_are_asked_for_are_looked_at() {
        let printing = &sample::samples()[4].truth;
        let dialect = Dialect::builtin("plain").unwrap();
        let target = Quantity::Target("extruder".to_owned());
        let at = |asked: &str| dialect.places_at(&target, printing, |path| path == asked);
        assert_eq!(at("/printer"), ["/heaters/extruder/target-celsius"]);
        assert_eq!(at("/heaters/extruder"), ["/target-celsius"]);
        assert!(at("/heaters/platform").is_empty());
        assert!(at("/job").is_empty());
        assert_eq!(dialect.bodies_at(printing, |path| path == "/job").len(), 1);
    }
}
