//! What the printer did, from temperatures and times alone.

use super::guess::{Guess, Meaning};
use super::number::Series;
use super::temperatures::{Thermometer, celsius};

/// Is what the printer seems to have done at an answer; `None` where nothing tells.
pub(super) type Timeline = Vec<Option<&'static str>>;

/// So much below its target a heater is on its way (own choice: reached is within 1 to 3 K, common practice).
const BELOW_KELVIN: f64 = 5.0;
/// Answers in which a job stands still, or it is a rounded number between two steps.
const STANDS_STILL: usize = 5;

/// Tells at which answers there was a job: something of it is known, or moves.
pub(super) fn job(
    guesses: &[(usize, Guess)],
    series: &[Series],
    heaters: &[Thermometer],
    count: usize,
) -> Vec<bool> {
    let of_job: Vec<&Series> = guesses
        .iter()
        .filter(|(_, guess)| {
            matches!(
                guess.meaning,
                Meaning::Progress | Meaning::Elapsed | Meaning::Remaining
            )
        })
        .map(|(place, _)| &series[*place])
        .collect();
    if of_job.is_empty() {
        return vec![true; count];
    }
    let is_there = |at: usize| {
        let mut values = of_job.iter().map(|series| series.values[at]);
        values.any(|value| value.is_some_and(|value| value > 0.0))
    };
    // Zeros at the beginning of a job are its own, too, if they are no null.
    let has_null = of_job
        .iter()
        .any(|series| series.values.iter().any(Option::is_none));
    if !has_null && heaters.is_empty() {
        // A route of the job alone is asked in vain without one, and zeros are its beginning.
        return vec![true; count];
    }
    let known = |at: usize| of_job.iter().any(|series| series.values[at].is_some());
    (0..count)
        .map(|at| if has_null { known(at) } else { is_there(at) })
        .collect()
}

/// Tells what the printer did at each answer.
pub(super) fn timeline(
    heaters: &[Thermometer],
    guesses: &[(usize, Guess)],
    series: &[Series],
    job: &[bool],
) -> Timeline {
    let named = |meaning: &Meaning| {
        let found = guesses
            .iter()
            .find(|(_, guess)| guess.meaning == *meaning && guess.confidence >= 0.7);
        found.map(|(place, guess)| (&series[*place], guess))
    };
    let (progress, elapsed) = (named(&Meaning::Progress), named(&Meaning::Elapsed));
    let is_moving = |at: usize| {
        let moves = |series: &Series| {
            let from = at.saturating_sub(STANDS_STILL);
            let until = (at + STANDS_STILL).min(series.values.len() - 1);
            let before = series.values[from..=at]
                .windows(2)
                .any(|pair| pair[1] > pair[0]);
            let after = series.values[at..=until]
                .windows(2)
                .any(|pair| pair[1] > pair[0]);
            before && after
        };
        elapsed.or(progress).map(|(series, _)| moves(series))
    };
    let is_done = |at: usize| {
        progress.is_some_and(|(series, guess)| {
            let full = match guess.unit {
                super::Unit::Fraction => 1.0,
                super::Unit::PerMille => 1000.0,
                _ => 100.0,
            };
            series.values[at].is_some_and(|value| value > 0.9985 * full)
        })
    };
    let heat = |at: usize| {
        let of = |one: &Thermometer| {
            let read =
                |place: usize| series[place].values[at].map(|value| celsius(value, one.unit));
            let target = series[one.target].values[at].filter(|target| *target > 0.0);
            (
                read(one.actual),
                // Off is 0 °C in any unit.
                target
                    .map(|target| celsius(target, one.unit))
                    .filter(|target| *target > 0.5),
            )
        };
        heaters.iter().map(of).collect::<Vec<_>>()
    };
    (0..job.len())
        .map(|at| {
            let heat = heat(at);
            let is_on = heat.iter().any(|(_, target)| target.is_some());
            let is_below = heat.iter().any(|(actual, target)| {
                matches!((actual, target), (Some(actual), Some(target)) if *actual < target - BELOW_KELVIN)
            });
            match (job[at], is_moving(at)) {
                (false, _) => Some(if is_below { "heating" } else if is_on { return None } else { "idle" }),
                (true, _) if is_done(at) && !is_on => Some("finished"),
                (true, _) if is_below => Some("heating"),
                (true, Some(true)) => Some("printing"),
                (true, Some(false)) if is_on && !is_done(at) => None,
                _ => None,
            }
        })
        .collect()
}
