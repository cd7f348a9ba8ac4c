//! Round numbers along the axes.

use std::time::Duration;

use serde::Serialize;

use super::px;
use super::window::Window;

/// Is a mark on the axis of time.
#[derive(Debug, Serialize)]
pub(super) struct XTick {
    x: String,
    label: String,
}

/// Gives marks at round seconds, about eight of them.
pub(super) fn ticks(window: Window) -> Vec<XTick> {
    let (from, until) = (window.from().as_secs_f64(), window.until().as_secs_f64());
    let at = round_between(from, until, 8.0);
    let digits = digits(&at);
    let tick = |seconds: f64| {
        let moment = Duration::try_from_secs_f64(seconds).unwrap_or_default();
        XTick {
            x: px(window.x(moment)),
            label: format!("{seconds:.digits$}"),
        }
    };
    at.into_iter().map(tick).collect()
}

/// Gives round numbers from one to another, at most so many steps apart: 1, 2 or 5 times a power of
/// ten.
pub(super) fn round_between(from: f64, until: f64, most: f64) -> Vec<f64> {
    let raw = ((until - from) / most).max(1e-6);
    let power = 10_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= raw)
        .unwrap_or(10.0 * power);
    let first = (from / step).ceil();
    let numbers = std::iter::successors(Some(first), |number| Some(number + 1.0));
    // A negative zero would be written with its sign.
    let numbers = numbers.map(|number| number * step + 0.0);
    numbers.take_while(|number| *number <= until).collect()
}

/// Gives how many digits tell the numbers apart.
pub(super) fn digits(numbers: &[f64]) -> usize {
    let is_whole = |number: &f64| (number - number.round()).abs() < 1e-6;
    match numbers.iter().all(is_whole) {
        true => 0,
        false => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(from: f64, until: f64, most: f64) -> Vec<String> {
        let numbers = round_between(from, until, most);
        numbers
            .iter()
            .map(|number| format!("{number:.1}"))
            .collect()
    }

    #[test]
    fn marks_are_at_round_numbers_within_the_span() {
        assert_eq!(written(3.2, 18.9, 4.0), ["5.0", "10.0", "15.0"]);
        assert_eq!(written(-0.4, 1.1, 4.0), ["0.0", "0.5", "1.0"]);
    }
}
