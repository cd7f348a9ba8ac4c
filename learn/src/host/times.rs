//! Which leaf is a time, and which the progress: by slope.

use super::guess::{Guess, Meaning, Unit};
use super::number::{Form, Series};

/// Is how a number moves while it moves.
struct Motion {
    /// Median change per second, of the pairs of answers in which it is known.
    slope: f64,
    /// The share of pairs whose change has the sign of the slope, or none.
    one_way: f64,
    /// The share of pairs in which it moved at all.
    moving: f64,
}

fn motion(series: &Series, at_s: &[f64]) -> Option<Motion> {
    let mut slopes = Vec::new();
    // Over several answers, so that a whole number's steps even out.
    let apart = (series.values.len() / 40).clamp(1, 12);
    for place in apart..series.values.len() {
        let (Some(before), Some(now)) = (series.values[place - apart], series.values[place]) else {
            continue;
        };
        let passed = at_s[place] - at_s[place - apart];
        if passed > 0.0 {
            slopes.push((now - before) / passed);
        }
    }
    if slopes.len() < 8 {
        return None;
    }
    let mut moved: Vec<f64> = slopes
        .iter()
        .copied()
        .filter(|slope| slope.abs() > 1e-12)
        .collect();
    if moved.len() < 5 {
        return None;
    }
    moved.sort_by(f64::total_cmp);
    let slope = moved[moved.len() / 2];
    let with_it = slopes.iter().filter(|own| **own * slope >= 0.0).count();
    Some(Motion {
        slope,
        one_way: with_it as f64 / slopes.len() as f64,
        moving: moved.len() as f64 / slopes.len() as f64,
    })
}

/// The scales of times: what a second is on the wire.
const SCALES: [(Unit, f64); 4] = [
    (Unit::Own, 1.0),
    (Unit::Milliseconds, 1000.0),
    (Unit::Minutes, 1.0 / 60.0),
    (Unit::Hours, 1.0 / 3600.0),
];

fn scale(slope: f64, off_by: f64) -> Option<(Unit, f64)> {
    SCALES
        .into_iter()
        .find(|(_, scale)| (slope / scale - 1.0).abs() <= off_by)
}

/// Says what a series is by how it moves, with what else is known: whether it is gone or stands still while
/// there is no job is told by the caller later.
pub(super) fn guess(series: &Series, at_s: &[f64]) -> Option<Guess> {
    let motion = motion(series, at_s)?;
    let guess = |meaning, unit, confidence, evidence| {
        Some(Guess {
            meaning,
            unit,
            form: Some(series.form),
            confidence,
            evidence,
        })
    };
    // What steps now and then, as a number of the job does, is no clock.
    let is_steady = motion.moving > 0.2;
    if let Some((unit, scale)) = scale(motion.slope, 0.1).filter(|_| is_steady) {
        if series.least() / scale > 9e8 {
            let evidence =
                "rises a second a second, and is as large as seconds since 1970".to_owned();
            return guess(Meaning::Clock, unit, 0.95, evidence);
        }
        let always = series.values.iter().all(Option::is_some);
        let resets = resets(series);
        // What goes on whatever the printer does is the host's own; what begins anew with a job is the job's.
        if always && motion.moving > 0.9 && !resets && motion.one_way > 0.999 {
            let evidence = "rises a second a second from the first answer to the last".to_owned();
            return guess(Meaning::UpTime, unit, 0.7, evidence);
        }
        let start = first_moving(series).unwrap_or(f64::INFINITY) / scale;
        let begins_small = resets || start < 60.0;
        let confidence = if begins_small { 0.9 } else { 0.6 };
        let evidence =
            format!("rises a second a second while it moves, and begins at {start:.0} s");
        return guess(Meaning::Elapsed, unit, confidence, evidence);
    }
    if motion.slope < 0.0 && motion.one_way > 0.9 {
        // An estimate is corrected now and then.
        if let Some((unit, scale)) = scale(-motion.slope, 0.25).filter(|_| is_steady) {
            let end = series.known().last().unwrap_or(f64::INFINITY) / scale;
            let confidence = if end < 120.0 { 0.93 } else { 0.85 };
            let evidence = format!("falls by about a second a second, to {end:.0} s");
            return guess(Meaning::Remaining, unit, confidence, evidence);
        }
        if matches!(series.form, Form::Clock | Form::Duration) {
            let evidence = "is written as a time, and falls".to_owned();
            return guess(Meaning::Remaining, Unit::Own, 0.85, evidence);
        }
    }
    progress(series, &motion)
}

/// A share that rises and never falls within a job.
fn progress(series: &Series, motion: &Motion) -> Option<Guess> {
    let (least, most) = (series.least(), series.most());
    let is_rising = motion.slope > 0.0 && (motion.one_way > 0.98 || resets(series));
    if !is_rising || least < 0.0 || matches!(series.form, Form::Clock | Form::Duration) {
        return None;
    }
    let (unit, confidence, why) = match most {
        most if most <= 1.0 && series.form != Form::Number(0) => match most > 0.5 {
            true => (Unit::Fraction, 0.92, "rises from 0 towards 1"),
            false => (
                Unit::Fraction,
                0.7,
                "rises, and stays below 1: a share, or the beginning of percents",
            ),
        },
        most if most <= 100.0 => match most > 1.5 {
            true => (Unit::Own, 0.9, "rises from 0 towards 100"),
            false => (Unit::Own, 0.6, "rises, and is small: percents, or a share"),
        },
        most if most <= 1000.0 && most > 995.0 => (Unit::PerMille, 0.9, "rises to 1000"),
        _ => return None,
    };
    // One that begins high has been seen for a part of its way only.
    let begins_high = least > 0.2 * most;
    let confidence = if begins_high {
        confidence - 0.05
    } else {
        confidence
    };
    Some(Guess {
        meaning: Meaning::Progress,
        unit,
        form: Some(series.form),
        confidence,
        evidence: format!("{why}; seen from {least} to {most}"),
    })
}

/// Tells whether it falls back to a small part of what it was, as at the next job.
fn resets(series: &Series) -> bool {
    let known: Vec<f64> = series.known().collect();
    known
        .windows(2)
        .any(|pair| pair[1] < 0.2 * pair[0] && pair[0] > 0.0)
}

fn first_moving(series: &Series) -> Option<f64> {
    let known: Vec<f64> = series.known().collect();
    let at = known.windows(2).position(|pair| pair[1] > pair[0])?;
    Some(known[at])
}

/// Settles what cannot be said of one alone: of two that rise like clocks the smaller is the job's if the
/// progress agrees, and a host's up-time is one that goes on without a job.
pub(super) fn settle(guesses: &mut [(usize, Guess)], series: &[Series], job: &[bool]) {
    let has_pauses = job.iter().any(|is_there| !is_there);
    let has_elapsed = guesses
        .iter()
        .any(|(_, guess)| guess.meaning == Meaning::Elapsed);
    let rising: Vec<usize> = (0..guesses.len())
        .filter(|place| guesses[*place].1.meaning == Meaning::UpTime)
        .collect();
    if has_pauses || has_elapsed {
        for place in rising {
            guesses[place].1.confidence = 0.9;
            guesses[place].1.evidence.push_str(match has_pauses {
                true => ", also while there is no job",
                false => ", and another begins anew with the job",
            });
        }
    } else if let [one, other] = rising[..] {
        let start = |place: usize| series[guesses[place].0].known().next().unwrap_or(0.0);
        let (job_s, host_s) = if start(one) < start(other) {
            (one, other)
        } else {
            (other, one)
        };
        guesses[job_s].1.meaning = Meaning::Elapsed;
        for place in [job_s, host_s] {
            guesses[place].1.confidence = 0.75;
            guesses[place]
                .1
                .evidence
                .push_str("; of two such the smaller may be the job's");
        }
    }
    only_one(guesses, &Meaning::Elapsed);
    only_one(guesses, &Meaning::Remaining);
    only_one(guesses, &Meaning::Progress);
    only_one(guesses, &Meaning::UpTime);
}

/// Where two leaves of one route seem to be the same, the surer one is it, and the other a question.
fn only_one(guesses: &mut [(usize, Guess)], meaning: &Meaning) {
    let places = || (0..guesses.len()).filter(|place| guesses[*place].1.meaning == *meaning);
    let surest = places().max_by(|one, other| {
        guesses[*one]
            .1
            .confidence
            .total_cmp(&guesses[*other].1.confidence)
    });
    let others: Vec<usize> = places().filter(|place| Some(*place) != surest).collect();
    for place in others {
        let guess = &mut guesses[place].1;
        guess.confidence = guess.confidence.min(0.6);
        guess
            .evidence
            .push_str("; another leaf is that more surely");
    }
}
