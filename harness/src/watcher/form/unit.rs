//! The units a watcher may show its numbers in.

use super::Raw;

/// Is the unit a number is shown in.
///
/// # Source
/// RFC 8428 section 12.1 and RFC 8798 for the quantities (`%` and `/`, `Cel` and `K`, `s`, `ms`, `min`,
/// `h`); the words are our own choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    /// 0 to 100.
    Percent,
    /// 0 to 1.
    Ratio,
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Kelvin.
    Kelvin,
    /// Milliseconds.
    Milliseconds,
    /// Seconds.
    Seconds,
    /// Minutes.
    Minutes,
    /// Hours.
    Hours,
    /// Hours, minutes and seconds with colons: `12:07:30`.
    HoursMinutesSeconds,
    /// Hours and minutes with a colon: `12:07`.
    HoursMinutes,
    /// Minutes and seconds with a colon: `72:30`.
    MinutesSeconds,
    /// Numbers with units: `1h 20m`, `90 s`, `2 days 3 hours`.
    Span,
}

impl Unit {
    /// Gives the value in percent, Celsius or seconds; `None` if it is no number of this unit.
    pub(crate) fn read(self, raw: &Raw) -> Option<f64> {
        let value = match (self, raw) {
            (Self::HoursMinutesSeconds, Raw::Text(text)) => clock(text, [3600.0, 60.0, 1.0])?,
            (Self::HoursMinutes, Raw::Text(text)) => clock(text, [3600.0, 60.0])?,
            (Self::MinutesSeconds, Raw::Text(text)) => clock(text, [60.0, 1.0])?,
            (Self::Span, Raw::Text(text)) => span(text)?,
            (
                Self::HoursMinutesSeconds | Self::HoursMinutes | Self::MinutesSeconds | Self::Span,
                _,
            ) => return None,
            (unit, raw) => unit.convert(raw.number()?),
        };
        // A number near the largest there is may get out of range on the way.
        value.is_finite().then_some(value)
    }

    fn convert(self, number: f64) -> f64 {
        match self {
            Self::Ratio => number * 100.0,
            // NIST SP 811 (2008), appendix B.8 (from memory): t/C = (t/F - 32)/1.8.
            Self::Fahrenheit => (number - 32.0) / 1.8,
            // SI Brochure, 9th edition, section 2.3.1 (from memory): t/C = T/K - 273.15.
            Self::Kelvin => number - 273.15,
            Self::Milliseconds => number / 1000.0,
            Self::Minutes => number * 60.0,
            Self::Hours => number * 3600.0,
            _ => number,
        }
    }

    /// Gives what is expected, as it follows "is no".
    pub(crate) fn expected(self) -> &'static str {
        match self {
            Self::HoursMinutesSeconds => "time such as 1:07:30",
            Self::HoursMinutes => "time such as 1:07",
            Self::MinutesSeconds => "time such as 67:30",
            Self::Span => "time such as 1h 7m",
            _ => "number",
        }
    }
}

/// Reads numbers between colons, each worth so many seconds. All but the first have two digits before
/// the point; only the last may have a point.
fn clock<const N: usize>(text: &str, seconds: [f64; N]) -> Option<f64> {
    let mut parts = text.split(':');
    let mut sum = 0.0;
    for (place, worth) in seconds.iter().enumerate() {
        let part = parts.next()?.trim();
        let whole = part.split_once('.').map_or(part, |(whole, _)| whole);
        let is_last = place + 1 == N;
        let digits = part
            .bytes()
            .all(|byte| byte.is_ascii_digit() || (is_last && byte == b'.'));
        if !digits || whole.is_empty() || (place > 0 && whole.len() != 2) {
            return None;
        }
        let number: f64 = part.parse().ok()?;
        if place > 0 && number >= 60.0 {
            return None;
        }
        sum += number * worth;
    }
    parts.next().is_none().then_some(sum)
}

fn span(text: &str) -> Option<f64> {
    // Also takes weeks and days, of which each has 24 h.
    let span: jiff::Span = text.parse().ok()?;
    let days = jiff::SpanRelativeTo::days_are_24_hours();
    span.total((jiff::Unit::Second, days)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(read: Option<f64>, expected: f64) {
        let read = read.expect("is read");
        assert!((read - expected).abs() < 1e-9, "{read} for {expected}");
    }

    #[test]
    fn each_unit_is_converted() {
        let number = |unit: Unit, number: f64| unit.read(&Raw::Number(number));
        near(number(Unit::Percent, 12.5), 12.5);
        near(number(Unit::Ratio, 0.125), 12.5);
        near(number(Unit::Celsius, 210.0), 210.0);
        near(number(Unit::Fahrenheit, 410.0), 210.0);
        near(number(Unit::Fahrenheit, -40.0), -40.0);
        near(number(Unit::Kelvin, 483.15), 210.0);
        near(number(Unit::Milliseconds, 1500.0), 1.5);
        near(number(Unit::Seconds, 1.5), 1.5);
        near(number(Unit::Minutes, 1.5), 90.0);
        near(number(Unit::Hours, 1.5), 5400.0);
    }

    #[test]
    fn each_form_of_a_time_is_read() {
        let text = |unit: Unit, text: &str| unit.read(&Raw::text(text));
        near(text(Unit::HoursMinutesSeconds, "1:07:30"), 4050.0);
        near(text(Unit::HoursMinutesSeconds, "100:00:00.5"), 360_000.5);
        near(text(Unit::HoursMinutes, "01:07"), 4020.0);
        near(text(Unit::MinutesSeconds, "67:30"), 4050.0);
        near(text(Unit::Span, "1h 7m 30s"), 4050.0);
        near(text(Unit::Span, "1 day 2 hours"), 93_600.0);
        near(text(Unit::Minutes, " 1.5 "), 90.0);
    }

    #[test]
    fn what_is_no_number_of_the_unit_is_not_guessed_at() {
        for (unit, text) in [
            (Unit::Percent, "12 %"),
            (Unit::Percent, "nan"),
            (Unit::Percent, "inf"),
            (Unit::Percent, ""),
            (Unit::HoursMinutesSeconds, "1:07"),
            (Unit::HoursMinutesSeconds, "1:7:30"),
            (Unit::HoursMinutesSeconds, "1:07:60"),
            (Unit::HoursMinutesSeconds, "-1:07:30"),
            (Unit::HoursMinutesSeconds, "1:07:30:00"),
            (Unit::HoursMinutes, "1.5:07"),
            (Unit::MinutesSeconds, "67:30.0.0"),
            (Unit::Span, "soon"),
            (Unit::Span, "12"),
        ] {
            assert_eq!(unit.read(&Raw::text(text)), None, "{unit:?} {text}");
        }
        assert_eq!(Unit::HoursMinutesSeconds.read(&Raw::Number(7.0)), None);
        assert_eq!(Unit::Hours.read(&Raw::Number(f64::MAX)), None);
    }
}
