//! Which leaf is a temperature, and which its target: the one goes where the other says.

use super::guess::{Guess, Meaning, Unit};
use super::number::Series;

/// Is a heater in a route's answers.
#[derive(Debug, Clone)]
pub(super) struct Thermometer {
    pub(super) actual: usize,
    pub(super) target: usize,
    pub(super) unit: Unit,
    pub(super) score: f64,
    pub(super) evidence: String,
    pub(super) hottest_celsius: f64,
}

/// Finds pairs among the series of one route, the surest first, each leaf once.
pub(super) fn find(series: &[Series]) -> Vec<Thermometer> {
    let mut pairs: Vec<Thermometer> = Vec::new();
    for (target_at, target) in series.iter().enumerate() {
        if !is_like_a_target(target) {
            continue;
        }
        for (actual_at, actual) in series.iter().enumerate() {
            if actual_at != target_at && actual.distinct() >= 8 {
                pairs.extend(pair((actual_at, actual), (target_at, target)));
            }
        }
    }
    pairs.sort_by(|one, other| other.score.total_cmp(&one.score));
    let mut taken: Vec<usize> = Vec::new();
    pairs.retain(|pair| {
        let is_free = !taken.contains(&pair.actual) && !taken.contains(&pair.target);
        if is_free {
            taken.extend([pair.actual, pair.target]);
        }
        is_free
    });
    pairs
}

/// It stands still for long, has few values, and is above zero at some time.
fn is_like_a_target(series: &Series) -> bool {
    let count = series.values.len();
    series.most() > 0.0 && series.distinct() <= 8 && series.changes() <= 2 + count / 10
}

fn pair(actual: (usize, &Series), target: (usize, &Series)) -> Option<Thermometer> {
    let (followed, not_followed) = following(actual.1, target.1);
    if followed.is_empty() {
        return None;
    }
    let unit = unit(actual.1, target.1)?;
    let followed_share = followed.len() as f64 / (followed.len() + not_followed) as f64;
    // Beside each other in one object they belong together.
    let is_beside = parent(&actual.1.pointer) == parent(&target.1.pointer);
    let score =
        followed_share * (if unit.1 { 0.95 } else { 0.7 }) + if is_beside { 0.03 } else { 0.0 };
    let shown: Vec<String> = followed.iter().map(f64::to_string).collect();
    let hottest = target.1.known().map(|value| celsius(value, unit.0));
    let hottest_celsius = hottest.fold(0.0, f64::max);
    Some(Thermometer {
        actual: actual.0,
        target: target.0,
        unit: unit.0,
        score,
        evidence: format!(
            "{} goes to {} wherever that stands still, and stays there",
            actual.1.pointer,
            shown.join(", ")
        ),
        hottest_celsius,
    })
}

fn parent(pointer: &str) -> &str {
    pointer.rsplit_once('/').map_or("", |(parent, _)| parent)
}

/// Gives the targets that were gone to, and how many were not.
fn following(actual: &Series, target: &Series) -> (Vec<f64>, usize) {
    let (mut followed, mut not_followed) = (Vec::new(), 0);
    let both: Vec<(f64, f64)> = (actual.values.iter().zip(&target.values))
        .filter_map(|(actual, target)| Some(((*actual)?, target.unwrap_or(0.0))))
        .collect();
    for stretch in both.chunk_by(|one, other| (one.1 - other.1).abs() < 1e-9) {
        let wanted = stretch[0].1;
        if wanted <= 0.0 || stretch.len() < 6 {
            continue;
        }
        let off = |(actual, _): &(f64, f64)| (actual - wanted).abs();
        let began = off(&stretch[0]);
        let last = &stretch[stretch.len() - 3..];
        let ended = last.iter().map(off).sum::<f64>() / 3.0;
        let near = 0.03 * wanted.abs();
        // On its way is enough where the recording ends before, but not for what moves evenly: a clock does.
        let is_there = ended <= near
            && (began > 2.0 * near || stretch.iter().all(|one| off(one) <= 2.0 * near));
        match is_there {
            true if !followed.iter().any(|one: &f64| (one - wanted).abs() < 1e-9) => {
                followed.push(wanted);
            }
            true => {}
            false if ended < 0.5 * began => {}
            false => not_followed += 1,
        }
    }
    (followed, not_followed)
}

/// Gives the unit in which coldest and targets make sense, and whether it is the only one.
fn unit(actual: &Series, target: &Series) -> Option<(Unit, bool)> {
    let units = [
        Unit::Own,
        Unit::TenthsOfCelsius,
        Unit::Fahrenheit,
        Unit::Kelvin,
    ];
    let makes_sense = |unit: &Unit| {
        let of = |value: f64| celsius(value, *unit);
        let (coldest, hottest) = (of(actual.least()), of(actual.most()));
        // A room, or a printer that is still warm; nothing that melts filament is hotter (common practice).
        (5.0..120.0).contains(&coldest) && (30.0..350.0).contains(&hottest)
    };
    let is_round = |unit: &Unit| {
        let mut targets = target
            .known()
            .filter(|value| *value > 0.0)
            .map(|value| celsius(value, *unit));
        targets.all(|celsius| (celsius - celsius.round()).abs() < 0.06)
    };
    let is_a_room = |unit: &Unit| (12.0..40.0).contains(&celsius(actual.least(), *unit));
    let sensible: Vec<Unit> = units.into_iter().filter(makes_sense).collect();
    let best: Vec<Unit> = sensible
        .iter()
        .copied()
        .filter(|unit| is_round(unit) && is_a_room(unit))
        .collect();
    match (&best[..], &sensible[..]) {
        ([one], _) => Some((*one, true)),
        ([one, ..], _) | ([], [one, ..]) => Some((*one, false)),
        ([], []) => None,
    }
}

/// Gives degrees Celsius of a number on the wire (SI Brochure, 9th edition; NIST SP 811 appendix B.8).
pub(super) fn celsius(value: f64, unit: Unit) -> f64 {
    match unit {
        Unit::TenthsOfCelsius => value / 10.0,
        Unit::Fahrenheit => (value - 32.0) / 1.8,
        Unit::Kelvin => value - 273.15,
        _ => value,
    }
}

/// Gives what a heater is called: the hot one melts, the other carries (orders of magnitude: common practice).
/// A second of one kind has a name that nobody here knows.
pub(super) fn names(found: &[Thermometer]) -> Vec<Option<&'static str>> {
    let kind = |one: &Thermometer| match one.hottest_celsius {
        celsius if celsius > 150.0 => Some("extruder"),
        celsius if celsius > 25.0 && celsius < 140.0 => Some("platform"),
        _ => None,
    };
    let mut taken = Vec::new();
    let mut each = Vec::new();
    for one in found {
        let name = kind(one).filter(|name| !taken.contains(name));
        taken.extend(name);
        each.push(name);
    }
    each
}

/// Gives the two guesses of a heater.
pub(super) fn guesses(
    found: &Thermometer,
    name: Option<&str>,
    series: &[Series],
) -> [(usize, Guess); 2] {
    let (known, name) = match name {
        Some(name) => (1.0, name),
        None => (0.7, "extruder"),
    };
    let guess = |place: usize, meaning: Meaning| Guess {
        meaning,
        unit: found.unit,
        form: Some(series[place].form),
        confidence: found.score.min(1.0) * known,
        evidence: found.evidence.clone(),
    };
    [
        (
            found.actual,
            guess(found.actual, Meaning::Actual(name.to_owned())),
        ),
        (
            found.target,
            guess(found.target, Meaning::Target(name.to_owned())),
        ),
    ]
}
