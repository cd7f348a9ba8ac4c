//! All guesses of a session, route by route.

use coldbed_session::Session;
use indexmap::IndexMap;
use serde_json::Value;

use super::guess::{Guess, Leaf, Meaning, RouteGuess, Unit};
use super::number::Series;
use super::samples::{Samples, of_session};
use super::temperatures::celsius;
use super::{phases, temperatures, times, words};
use crate::thermal::Reading;

/// Fewer answers of a route say nothing about how anything changes (own choice).
const FEWEST: usize = 20;

/// Guesses what the leaves of each route mean that answered with JSON.
pub fn guess_routes(session: &Session) -> Vec<RouteGuess> {
    of_session(session).iter().map(guess_route).collect()
}

fn guess_route(samples: &Samples) -> RouteGuess {
    let leaves = samples.leaves();
    let series: Vec<Series> = match samples.bodies.len() < FEWEST {
        true => Vec::new(),
        false => leaves
            .iter()
            .filter_map(|(pointer, values)| Series::of(pointer, values))
            .collect(),
    };
    let heaters = temperatures::find(&series);
    let names = temperatures::names(&heaters);
    let mut guesses: Vec<(usize, Guess)> = Vec::new();
    for (heater, name) in heaters.iter().zip(&names) {
        guesses.extend(temperatures::guesses(heater, *name, &series));
    }
    let taken: Vec<usize> = guesses.iter().map(|(place, _)| *place).collect();
    let mut of_times: Vec<(usize, Guess)> = (series.iter().enumerate())
        .filter(|(place, _)| !taken.contains(place))
        .filter_map(|(place, series)| Some((place, times::guess(series, &samples.at_s)?)))
        .collect();
    let job = phases::job(&of_times, &series, &heaters, samples.bodies.len());
    times::settle(&mut of_times, &series, &job);
    let job = phases::job(&of_times, &series, &heaters, samples.bodies.len());
    let timeline = phases::timeline(&heaters, &of_times, &series, &job);
    guesses.extend(of_times);
    let mut by_pointer: IndexMap<String, Guess> = guesses
        .into_iter()
        .map(|(place, guess)| (series[place].pointer.clone(), guess))
        .collect();
    let mut words = IndexMap::new();
    for said in words::find(&leaves, &timeline) {
        if by_pointer.contains_key(&said.pointer) {
            continue;
        }
        let guess = plain(Meaning::Phase, said.confidence, said.evidence);
        words.insert(said.pointer.clone(), said.words);
        by_pointer.insert(said.pointer, guess);
    }
    flags_and_names(&leaves, &job, &heaters, &names, &series, &mut by_pointer);
    let readings = heaters.iter().zip(&names).filter_map(|(heater, name)| {
        let of = |place: usize, at: usize| {
            series[place].values[at].map(|value| celsius(value, heater.unit))
        };
        let reading = |(at, at_s): (usize, &f64)| {
            Some(Reading {
                at_s: *at_s,
                actual_celsius: of(heater.actual, at)?,
                // Zero on the wire is off in any unit.
                target_celsius: series[heater.target].values[at]
                    .filter(|target| *target > 0.0)
                    .map(|target| celsius(target, heater.unit)),
            })
        };
        let readings = samples
            .at_s
            .iter()
            .enumerate()
            .filter_map(reading)
            .collect();
        Some(((*name)?.to_owned(), readings))
    });
    let readings = readings.collect();
    let unknown = |pointer: &String| {
        let found = series.iter().find(|series| series.pointer == *pointer);
        found.and_then(|series| series.unknown.clone())
    };
    let body = |wanted: bool| {
        // The one that shows most; of several the last.
        let mut of = samples
            .bodies
            .iter()
            .zip(&job)
            .filter(|(_, is_there)| **is_there == wanted);
        let first = of.next()?.0;
        let most = of.fold((first, size(first)), |(most, largest), (body, _)| {
            let own = size(body);
            if own >= largest {
                (body, own)
            } else {
                (most, largest)
            }
        });
        Some(most.0.clone())
    };
    let is_of = |guess: &Guess| {
        matches!(
            guess.meaning,
            Meaning::Progress | Meaning::Elapsed | Meaning::Remaining
        )
    };
    let is_of_job = heaters.is_empty()
        && job.iter().all(|is_there| *is_there)
        && by_pointer.values().any(is_of);
    RouteGuess {
        not_found: samples.not_found,
        is_of_job,
        path: samples.path.clone(),
        content_type: samples.content_type.clone(),
        answers: samples.bodies.len(),
        leaves: leaves
            .iter()
            .map(|(pointer, values)| {
                leaf(
                    pointer,
                    values,
                    &job,
                    by_pointer.get(pointer),
                    unknown(pointer),
                )
            })
            .collect(),
        words,
        with_job: body(true),
        without_job: body(false),
        readings,
    }
}

fn size(body: &Value) -> usize {
    let mut count = 0;
    super::samples::leaves(body, String::new(), &mut |_, value| {
        count += usize::from(!value.is_null());
    });
    count
}

fn plain(meaning: Meaning, confidence: f64, evidence: String) -> Guess {
    Guess {
        meaning,
        unit: Unit::Own,
        form: None,
        confidence,
        evidence,
    }
}

fn leaf(
    pointer: &str,
    values: &[Option<Value>],
    job: &[bool],
    guess: Option<&Guess>,
    unknown: Option<String>,
) -> Leaf {
    let there: Vec<&Value> = values.iter().flatten().collect();
    let of = |wanted: bool| {
        let mut all = values.iter().zip(job).rev();
        all.find_map(|(value, is_there)| value.as_ref().filter(|_| *is_there == wanted))
            .cloned()
    };
    let last = of(true).or_else(|| there.last().map(|value| (*value).clone()));
    let last = last.unwrap_or(Value::Null);
    // Only what is the same whenever there is no job can be written down for it.
    let idle: Vec<&Value> = (values.iter().zip(job))
        .filter_map(|(value, is_there)| value.as_ref().filter(|_| !is_there))
        .collect();
    let without_job = idle
        .first()
        .filter(|first| idle.iter().all(|value| value == *first));
    Leaf {
        pointer: pointer.to_owned(),
        guess: guess.cloned(),
        is_constant: there.windows(2).all(|pair| pair[0] == pair[1]),
        zero: there
            .iter()
            .find(|value| super::number::read(value).is_some_and(|(number, _)| number.abs() < 1e-9))
            .map(|value| (**value).clone()),
        unknown,
        is_of_job: values
            .iter()
            .zip(job)
            .all(|(value, is_there)| *is_there || value.is_none()),
        is_null_at_times: there.contains(&&Value::Null),
        without_job: without_job
            .map(|value| (**value).clone())
            .filter(|value| *value != last),
        last,
    }
}

/// Finds flags that say whether a heater is on, and the job's name.
fn flags_and_names(
    leaves: &IndexMap<String, Vec<Option<Value>>>,
    job: &[bool],
    heaters: &[temperatures::Thermometer],
    names: &[Option<&'static str>],
    series: &[Series],
    by_pointer: &mut IndexMap<String, Guess>,
) {
    for (pointer, values) in leaves {
        if by_pointer.contains_key(pointer) {
            continue;
        }
        for (heater, name) in heaters.iter().zip(names) {
            let Some(name) = name else { continue };
            let target = &series[heater.target].values;
            let agrees = values
                .iter()
                .zip(target)
                .all(|(value, target)| match value {
                    Some(Value::Bool(flag)) => *flag == target.is_some_and(|target| target > 0.0),
                    _ => false,
                });
            let both = values.iter().any(|value| *value == Some(Value::Bool(true)))
                && values.contains(&Some(Value::Bool(false)));
            let is_beside = pointer.rsplit_once('/').map(|(parent, _)| parent)
                == series[heater.target]
                    .pointer
                    .rsplit_once('/')
                    .map(|(parent, _)| parent);
            if agrees && both {
                let confidence = if is_beside { 0.95 } else { 0.75 };
                let evidence = "true just while the target is above zero".to_owned();
                by_pointer.insert(
                    pointer.clone(),
                    plain(Meaning::On((*name).to_owned()), confidence, evidence),
                );
                break;
            }
        }
        if let Some(guess) = job_name(pointer, values, job) {
            by_pointer.entry(pointer.clone()).or_insert(guess);
        }
    }
    // Two names in one answer: which of them is the job's nobody here knows.
    let names: Vec<String> = by_pointer
        .iter()
        .filter(|(_, guess)| guess.meaning == Meaning::JobName)
        .map(|(pointer, _)| pointer.clone())
        .collect();
    if names.len() > 1 {
        let hinted: Vec<&String> = names
            .iter()
            .filter(|pointer| is_called_a_name(pointer))
            .collect();
        for pointer in &names {
            let is_it = matches!(hinted[..], [one] if one == pointer);
            if let Some(guess) = by_pointer.get_mut(pointer).filter(|_| !is_it) {
                guess.confidence = 0.6;
            }
        }
    }
}

fn is_called_a_name(pointer: &str) -> bool {
    let last = pointer
        .rsplit('/')
        .next()
        .unwrap_or_default()
        .to_lowercase();
    ["name", "title", "file", "called"]
        .iter()
        .any(|word| last.contains(word))
}

/// A text that stays the same while there is a job, and is gone or another without one.
fn job_name(pointer: &str, values: &[Option<Value>], job: &[bool]) -> Option<Guess> {
    let text = |value: &Option<Value>| match value {
        Some(Value::String(text)) if !text.is_empty() => Some(text.clone()),
        _ => None,
    };
    let with: Vec<Option<String>> = values
        .iter()
        .zip(job)
        .filter(|(_, job)| **job)
        .map(|(v, _)| text(v))
        .collect();
    let without: Vec<Option<String>> = values
        .iter()
        .zip(job)
        .filter(|(_, job)| !**job)
        .map(|(v, _)| text(v))
        .collect();
    if with.is_empty() || with.iter().any(Option::is_none) {
        return None;
    }
    let changes = with.windows(2).filter(|pair| pair[0] != pair[1]).count();
    let mut seen: Vec<&Option<String>> = with.iter().collect();
    seen.sort_unstable();
    seen.dedup();
    let names_seen = seen.len();
    let is_gone = !without.is_empty() && without.iter().all(Option::is_none);
    let called = is_called_a_name(pointer);
    let confidence = match (is_gone, called) {
        _ if changes > 1 + with.len() / 50 => return None,
        (true, true) => 0.95,
        // Another name for another job is what a name is for.
        (true, false) if names_seen > 1 => 0.85,
        (true, false) => 0.7,
        (false, true) if without.is_empty() => 0.6,
        _ => return None,
    };
    let mut evidence = "the same text all through a job".to_owned();
    if is_gone {
        evidence.push_str(", none without one");
    }
    Some(plain(Meaning::JobName, confidence, evidence))
}
