//! A number, read from the leaf that follows it.

use jiff::{SignedDuration, Span};
use serde_json::Value;

use super::super::whereabouts::Quantity;
use super::{Told, leaves};
use crate::sim::Truth;

/// Reads one number from its place.
#[derive(Debug)]
pub(super) struct NumberReader {
    place: String,
    /// What is shown of one unit of the truth.
    slope: f64,
    /// What is shown of none.
    offset: f64,
    /// How far the truth may be from what is read, by rounding.
    slack: f64,
}

impl NumberReader {
    /// Finds the place that shows a quantity and the line by which it does. Of several the one that
    /// rounds least.
    pub(super) fn of(
        quantity: &Quantity,
        shown: &dyn Fn(&Truth) -> Option<Value>,
        truth: &Truth,
    ) -> Option<Self> {
        let variants = quantity.tried(truth);
        let truths: Vec<f64> = variants
            .iter()
            .filter_map(|truth| quantity.number_in(truth))
            .collect();
        let bodies: Vec<Value> = variants.iter().map(shown).collect::<Option<_>>()?;
        let first = bodies.first()?;
        if truths.len() != bodies.len() {
            return None;
        }
        leaves(first, false)
            .into_keys()
            .filter_map(|place| {
                let leaf = |body: &Value| body.pointer(&place).and_then(number_of);
                let seen: Vec<f64> = bodies.iter().map(leaf).collect::<Option<_>>()?;
                Self::through(place, &truths, &seen)
            })
            .min_by(|one, other| one.slack.total_cmp(&other.slack))
    }

    /// Gives the line through what was shown, if there is one but for rounding.
    fn through(place: String, truths: &[f64], seen: &[f64]) -> Option<Self> {
        let (first, last) = (truths.first()?, truths.last()?);
        let (low, high) = (seen.first()?, seen.last()?);
        let slope = (high - low) / (last - first);
        // A leaf that hardly moves shows something else.
        if !slope.is_finite() || (high - low).abs() < f64::EPSILON {
            return None;
        }
        // Ten hundred-millionths per unit are more than any scale in use is off by when both ends
        // are rounded; the usual ones are taken where they fit as well.
        let step = step_of(seen);
        let usual = usual_slope(slope, step / (last - first).abs());
        let offset = seen
            .iter()
            .zip(truths)
            .map(|(seen, truth)| seen - usual * truth)
            .sum::<f64>()
            / f64::from(u32::try_from(seen.len()).ok()?);
        let offset = if offset.abs() <= step { 0.0 } else { offset };
        let off = |(seen, truth): (&f64, &f64)| (seen - (usual * truth + offset)).abs();
        let worst = seen.iter().zip(truths).map(off).fold(0.0, f64::max);
        // Cut or rounded: never off by more than its last digit.
        (worst <= step * 1.001).then(|| Self {
            place,
            slope: usual,
            offset,
            slack: step / usual.abs(),
        })
    }

    /// Gives what a body says of it.
    pub(super) fn read(&self, body: &Value) -> Told<f64> {
        match body.pointer(&self.place) {
            None | Some(Value::Null) => Told::Unknown,
            Some(leaf) => match number_of(leaf) {
                Some(shown) => Told::Value {
                    value: (shown - self.offset) / self.slope,
                    slack: self.slack,
                },
                None => Told::Unreadable(leaf.to_string()),
            },
        }
    }
}

/// Gives the step in which numbers are shown: one of their last decimal place.
///
/// Quarters are tried, so two decimals are full precision of what is tried.
fn step_of(seen: &[f64]) -> f64 {
    let is_in = |step: f64| {
        seen.iter()
            .all(|value| ((value / step).round() * step - value).abs() < step * 1e-6)
    };
    let steps = [100.0, 60.0, 10.0, 1.0, 0.1, 0.01, 0.001];
    steps.into_iter().find(|step| is_in(*step)).unwrap_or(1e-4)
}

/// Gives the scale in use that is nearest, if rounding can be the difference.
fn usual_slope(slope: f64, rounding: f64) -> f64 {
    let usual = [
        1.0,
        0.01,
        0.1,
        10.0,
        100.0,
        1000.0,
        1.0 / 60.0,
        1.0 / 3600.0,
        1.8,
        1e-3,
        -1.0,
        -0.01,
    ];
    let nearest = usual
        .into_iter()
        .find(|usual| (usual - slope).abs() <= rounding.max(slope.abs() * 1e-9));
    nearest.unwrap_or(slope)
}

/// Reads a leaf as a number: itself, or a text that is one, has one number in it, or is a length of time.
fn number_of(leaf: &Value) -> Option<f64> {
    match leaf {
        Value::Number(number) => number.as_f64(),
        Value::String(text) => number_in(text.trim()),
        _ => None,
    }
}

fn number_in(text: &str) -> Option<f64> {
    if let Ok(number) = text.parse::<f64>() {
        return number.is_finite().then_some(number);
    }
    length_of_time(text).or_else(|| {
        let is_part = |sign: char| sign.is_ascii_digit() || sign == '.' || sign == '-';
        let mut runs = text
            .split(|sign| !is_part(sign))
            .filter(|run| run.contains(|sign: char| sign.is_ascii_digit()));
        let (one, other) = (runs.next()?, runs.next());
        if other.is_some() {
            return None;
        }
        one.parse().ok()
    })
}

/// Reads `h:mm:ss`, `mm:ss` (common practice) and ISO 8601 lengths of time, in seconds.
fn length_of_time(text: &str) -> Option<f64> {
    if text.contains(':') {
        let parts: Vec<f64> = text
            .split(':')
            .map(|part| part.parse().ok())
            .collect::<Option<_>>()?;
        return match parts[..] {
            [minutes, seconds] => Some(minutes * 60.0 + seconds),
            [hours, minutes, seconds] => Some(hours * 3600.0 + minutes * 60.0 + seconds),
            _ => None,
        };
    }
    let span: Span = text.parse().ok()?;
    let length = SignedDuration::try_from(span).ok()?;
    Some(length.as_secs_f64())
}
