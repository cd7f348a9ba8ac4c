//! Round numbers for the axes.

use coldbed_mock::sim::Tick;

use super::Window;

/// Is the scale of an axis of values: a range and the round values in it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ValueAxis {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) ticks: Vec<f64>,
    decimals: usize,
}

impl ValueAxis {
    /// Finds round values in a range: at least two, at most `max_ticks` (or three, if that is
    /// more).
    ///
    /// The range stays as it is: an end moved out to a round value can cost half of a low panel.
    pub(super) fn over(low: f64, high: f64, max_ticks: u32) -> Self {
        // A flat line needs some height to be seen in.
        let high = if high - low < 1e-6 { low + 1.0 } else { high };
        let most = f64::from(max_ticks.max(3));
        let mut exponent = ((high - low) / most).log10().floor();
        loop {
            for mantissa in [1.0, 2.0, 2.5, 5.0] {
                let step = mantissa * 10_f64.powf(exponent);
                // An end that is round itself must not be lost to the last bit.
                let first = (low / step - 1e-9).ceil();
                let last = (high / step + 1e-9).floor();
                if last - first < most {
                    let own = if mantissa.fract() > 0.0 { 1.0 } else { 0.0 };
                    return Self {
                        low,
                        high,
                        ticks: (0..=whole(last - first))
                            .map(|index| (first + f64::from(index)) * step)
                            .collect(),
                        decimals: whole(own - exponent) as usize,
                    };
                }
            }
            exponent += 1.0;
        }
    }

    /// Writes a value of the axis.
    pub(super) fn label(&self, value: f64) -> String {
        let decimals = self.decimals;
        // Adding zero takes the sign off a negative zero.
        format!("{:.decimals$}", value + 0.0)
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a small whole number; a negative one becomes 0"
)]
const fn whole(number: f64) -> u32 {
    number as u32
}

/// Says how the moments of an axis are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TimeForm {
    /// Minutes, seconds and a tenth: `1:05.5`.
    Tenths,
    /// Minutes and seconds: `61:05`.
    Minutes,
    /// Hours, minutes and seconds: `1:01:05`.
    Seconds,
    /// Hours and minutes: `25:01`.
    Hours,
}

impl TimeForm {
    /// Gives the form in the letters people know it by.
    pub(super) const fn letters(self) -> &'static str {
        match self {
            Self::Tenths => "m:ss.s",
            Self::Minutes => "m:ss",
            Self::Seconds => "h:mm:ss",
            Self::Hours => "h:mm",
        }
    }

    /// Writes a moment, cut down to what the form can show.
    pub(super) fn write(self, at: Tick) -> String {
        let (seconds, tenth) = (at.0 / SECOND, at.0 % SECOND);
        let (minutes, second) = (seconds / 60, seconds % 60);
        let (hours, minute) = (minutes / 60, minutes % 60);
        match self {
            Self::Tenths => format!("{minutes}:{second:02}.{tenth}"),
            Self::Minutes => format!("{minutes}:{second:02}"),
            Self::Seconds => format!("{hours}:{minute:02}:{second:02}"),
            Self::Hours => format!("{hours}:{minute:02}"),
        }
    }

    /// Chooses the shortest form that can write every multiple of `unit` up to a moment.
    fn of(unit: u64, until: Tick) -> Self {
        if !unit.is_multiple_of(SECOND) {
            Self::Tenths
        } else if until.0 <= HOUR {
            Self::Minutes
        } else if !unit.is_multiple_of(MINUTE) {
            Self::Seconds
        } else {
            Self::Hours
        }
    }

    /// Chooses the shortest form that writes the window's own ends in full.
    pub(super) fn of_ends(window: Window) -> Self {
        let ends = [window.from().0, window.until().0];
        let units = [MINUTE, SECOND];
        let unit = units
            .into_iter()
            .find(|unit| ends.iter().all(|end| end.is_multiple_of(*unit)));
        Self::of(unit.unwrap_or(1), window.until())
    }

    /// Chooses the form for any moment of a window, to the second.
    pub(super) fn of_moments(window: Window) -> Self {
        Self::of(SECOND, window.until())
    }
}

const SECOND: u64 = 10;
const MINUTE: u64 = 60 * SECOND;
const HOUR: u64 = 60 * MINUTE;

/// The steps people count time in, in ticks.
const STEPS: [u64; 26] = [
    1,
    2,
    5,
    SECOND,
    2 * SECOND,
    5 * SECOND,
    10 * SECOND,
    15 * SECOND,
    30 * SECOND,
    MINUTE,
    2 * MINUTE,
    5 * MINUTE,
    10 * MINUTE,
    15 * MINUTE,
    30 * MINUTE,
    HOUR,
    2 * HOUR,
    3 * HOUR,
    6 * HOUR,
    12 * HOUR,
    24 * HOUR,
    48 * HOUR,
    96 * HOUR,
    168 * HOUR,
    336 * HOUR,
    744 * HOUR,
];

/// Is the scale of the axis of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct TimeAxis {
    pub(super) ticks: Vec<Tick>,
    pub(super) form: TimeForm,
}

impl TimeAxis {
    /// Puts at most `max_ticks` round moments (never fewer than two are allowed) into a window.
    pub(super) fn over(window: Window, max_ticks: u64) -> Self {
        let fits = |step: &u64| window.ticks() / step < max_ticks.max(2);
        let step = STEPS.into_iter().find(fits).unwrap_or(744 * HOUR);
        let first = window.from().0.div_ceil(step);
        let ticks = (first..=window.until().0 / step).map(|index| Tick(index * step));
        Self {
            ticks: ticks.collect(),
            form: TimeForm::of(step, window.until()),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use proptest::prelude::*;

    use super::*;

    fn times(from_s: u64, until_s: u64, max_ticks: u64) -> (String, &'static str) {
        let window = Window::new(Duration::from_secs(from_s), Duration::from_secs(until_s));
        let axis = TimeAxis::over(window.unwrap(), max_ticks);
        let labels: Vec<String> = axis.ticks.iter().map(|at| axis.form.write(*at)).collect();
        (labels.join(" "), axis.form.letters())
    }

    fn values(low: f64, high: f64, max_ticks: u32) -> String {
        let axis = ValueAxis::over(low, high, max_ticks);
        let labels: Vec<String> = axis.ticks.iter().map(|tick| axis.label(*tick)).collect();
        labels.join(" ")
    }

    #[test]
    fn ten_minutes_are_counted_in_minutes() {
        let (labels, form) = times(0, 600, 12);
        assert_eq!(form, "m:ss");
        assert_eq!(
            labels,
            "0:00 1:00 2:00 3:00 4:00 5:00 6:00 7:00 8:00 9:00 10:00"
        );
    }

    #[test]
    fn seven_hours_are_counted_in_hours() {
        let (labels, form) = times(0, 7 * 3600, 12);
        assert_eq!(form, "h:mm");
        assert_eq!(labels, "0:00 1:00 2:00 3:00 4:00 5:00 6:00 7:00");
    }

    #[test]
    fn a_minute_late_in_a_long_print_needs_hours_and_seconds() {
        let (labels, form) = times(7_230, 7_290, 8);
        assert_eq!(form, "h:mm:ss");
        assert_eq!(
            labels,
            "2:00:30 2:00:40 2:00:50 2:01:00 2:01:10 2:01:20 2:01:30"
        );
    }

    #[test]
    fn temperatures_get_round_degrees() {
        assert_eq!(values(0.0, 214.3, 7), "0 50 100 150 200");
        assert_eq!(values(0.0, 214.3, 3), "0 100 200");
        assert_eq!(values(0.0, 100.0, 5), "0 25 50 75 100");
    }

    #[test]
    fn a_round_end_of_the_range_is_a_tick_whatever_the_last_bit() {
        assert_eq!(values(0.0, 0.1 + 0.2, 5), "0.0 0.1 0.2 0.3");
        assert_eq!(
            values(-0.3, 0.3 - 1e-12, 8),
            "-0.3 -0.2 -0.1 0.0 0.1 0.2 0.3"
        );
    }

    #[test]
    fn small_ranges_get_the_decimals_they_need_and_zero_no_sign() {
        assert_eq!(values(-0.2, 0.3, 7), "-0.2 -0.1 0.0 0.1 0.2 0.3");
    }

    proptest! {
        #[test]
        fn an_axis_of_values_has_few_ticks_all_inside_and_each_with_its_own_label(
            low in -300.0..1000.0_f64, span in 0.0..5000.0_f64, max_ticks in 3..20_u32,
        ) {
            let axis = ValueAxis::over(low, low + span, max_ticks);
            let slack = 1e-6 * (1.0 + span);
            let inside = axis.low - slack..=axis.high + slack;
            prop_assert!(axis.ticks.iter().all(|tick| inside.contains(tick)));
            prop_assert!((2..=max_ticks as usize).contains(&axis.ticks.len()));
            let mut labels: Vec<String> = axis.ticks.iter().map(|tick| axis.label(*tick)).collect();
            labels.dedup();
            prop_assert_eq!(labels.len(), axis.ticks.len());
        }

        #[test]
        fn an_axis_of_time_stays_inside_its_window_with_few_ticks(
            from in 0..40_000_000_u64, span in 1..10_000_000_u64, max_ticks in 2..30_u64,
        ) {
            let ends = [from, from + span].map(|tick| Tick(tick).start().since_start());
            let window = Window::new(ends[0], ends[1]).unwrap();
            let axis = TimeAxis::over(window, max_ticks);
            prop_assert!(axis.ticks.len() as u64 <= max_ticks);
            prop_assert!(axis.ticks.iter().all(|at| (window.from()..=window.until()).contains(at)));
            let mut labels: Vec<String> = axis.ticks.iter().map(|at| axis.form.write(*at)).collect();
            labels.dedup();
            prop_assert_eq!(labels.len(), axis.ticks.len());
        }
    }
}
