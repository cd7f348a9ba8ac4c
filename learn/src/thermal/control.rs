//! How a heater is controlled, from what it does once it is there.

use super::spans::Reading;

/// Says how a heater is controlled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Control {
    /// It swings evenly between these turning points, °C. Dead time carries it beyond the band in which it
    /// is switched.
    OnOff {
        /// The lower turning point.
        low_celsius: f64,
        /// The upper one.
        high_celsius: f64,
    },
    /// It keeps its target as closely as it is read.
    Proportional,
    /// It never kept a target for long enough.
    Unknown,
}

/// So near its target it is kept there.
const NEAR_KELVIN: f64 = 12.0;
/// So many readings in a row, or nothing is said.
const FEWEST: usize = 40;
/// So many swings, or it is chance.
const SWINGS: usize = 3;

/// Tells the kind from the longest time at one target.
pub(super) fn kind(readings: &[Reading]) -> Control {
    let hold = longest_hold(readings);
    if hold.len() < FEWEST {
        return Control::Unknown;
    }
    // The way in, with its overshoot, is not yet the swing.
    let hold = &hold[hold.len() / 4..];
    let smooth: Vec<f64> = hold
        .windows(3)
        .map(|three| three.iter().sum::<f64>() / 3.0)
        .collect();
    let mean = smooth.iter().sum::<f64>() / smooth.len() as f64;
    // What one reading differs from the middle of its neighbours by is noise, and some of the bend.
    let noise = hold
        .windows(3)
        .map(|three| (three[1] - f64::midpoint(three[0], three[2])).powi(2));
    let noise = (noise.sum::<f64>() / (hold.len() - 2) as f64 / 1.5).sqrt();
    let (lows, highs) = turning_points(&smooth, mean);
    if lows.len() < SWINGS || highs.len() < SWINGS {
        return Control::Proportional;
    }
    let (low, low_spread) = mean_and_spread(&lows);
    let (high, high_spread) = mean_and_spread(&highs);
    let swing = high - low;
    let is_even = low_spread.max(high_spread) < 0.2 * swing;
    match is_even && swing > 6.0 * noise && swing > 0.3 {
        true => Control::OnOff {
            low_celsius: low,
            high_celsius: high,
        },
        false => Control::Proportional,
    }
}

fn longest_hold(readings: &[Reading]) -> Vec<f64> {
    let mut longest: Vec<f64> = Vec::new();
    let mut now: Vec<f64> = Vec::new();
    let mut at = None;
    for reading in readings {
        let target = reading.target_celsius.filter(|target| *target > 0.0);
        let is_near =
            target.is_some_and(|target| (reading.actual_celsius - target).abs() < NEAR_KELVIN);
        let is_same = match (at, target) {
            (Some(before), Some(target)) => f64::abs(target - before) < 0.01,
            (None, None) => true,
            _ => false,
        };
        if !is_same || !is_near {
            now.clear();
        }
        at = target;
        if is_near {
            now.push(reading.actual_celsius);
        }
        if now.len() > longest.len() {
            longest.clone_from(&now);
        }
    }
    longest
}

/// Gives the lowest and the highest of each excursion below and above the mean; the first and the last,
/// which are cut, are left out.
fn turning_points(smooth: &[f64], mean: f64) -> (Vec<f64>, Vec<f64>) {
    let (mut lows, mut highs) = (Vec::new(), Vec::new());
    let runs = smooth.chunk_by(|one, other| (*one > mean) == (*other > mean));
    let runs: Vec<&[f64]> = runs.collect();
    let inner = runs
        .get(1..runs.len().saturating_sub(1))
        .unwrap_or_default();
    for run in inner {
        if run[0] > mean {
            highs.push(run.iter().copied().fold(f64::NEG_INFINITY, f64::max));
        } else {
            lows.push(run.iter().copied().fold(f64::INFINITY, f64::min));
        }
    }
    (lows, highs)
}

fn mean_and_spread(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let variance = values
        .iter()
        .map(|value| (value - mean).powi(2))
        .sum::<f64>()
        / count;
    (mean, variance.sqrt())
}
