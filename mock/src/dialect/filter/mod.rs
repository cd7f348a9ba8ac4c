//! Filters of the expressions in a dialect's bodies.
//!
//! Every filter gives null for null and for a number that JSON cannot write (RFC 8259 section 6), so
//! that a field stays unknown when it is unknown. A value of a wrong type is an error when the dialect
//! is read, as is a wrong argument. The general ones of the template language (`default`, `upper`,
//! `join`, …) work too; those are not null-safe.
//!
//! `docs/dialect-filters.md` has the same tables; a test holds the two together and tries every
//! example.
//!
//! # Numbers
//!
//! Where every number that goes in is an integer, `scale`, `plus`, `minus` and `clamp` give an
//! integer; otherwise they give a number with a decimal point.
//!
//! | filter | gives | example | result |
//! |---|---|---|---|
//! | `round(places)` | a number with a decimal point; without `places` to the nearest whole one | `21.25 \| round(1)` | `21.3` |
//! | `whole` | the nearest integer | `209.96 \| whole` | `210` |
//! | `floor` | the integer at or below | `(-0.5) \| floor` | `-1` |
//! | `ceil` | the integer at or above | `11.2 \| ceil` | `12` |
//! | `scale(factor, offset)` | the value times `factor`, plus `offset` (0 if left out) | `21.5 \| scale(10, 5)` | `220.0` |
//! | `plus(y)` | the sum; null if either is null | `7 \| plus(1)` | `8` |
//! | `minus(y)` | the difference; null if either is null | `60.5 \| minus(60)` | `0.5` |
//! | `clamp(low, high)` | the value, or the limit it is beyond | `101.5 \| clamp(0, 100)` | `100.0` |
//! | `fixed(places)` | text with so many decimal places, 0 to 15, rounded as `round` does | `21 \| fixed(1)` | `"21.0"` |
//! | `digits(width)` | the nearest integer as text, with zeros in front up to `width` digits, 1 to 30 | `7 \| digits(3)` | `"007"` |
//!
//! # Units
//!
//! All give a number with a decimal point.
//!
//! | filter | gives | example | result |
//! |---|---|---|---|
//! | `fahrenheit` | degrees Fahrenheit, from Celsius | `100 \| fahrenheit` | `212.0` |
//! | `kelvin` | kelvin, from Celsius | `25 \| kelvin` | `298.15` |
//! | `fraction` | a share of 1, from percent | `50 \| fraction` | `0.5` |
//! | `minutes` | minutes, from seconds | `90 \| minutes` | `1.5` |
//! | `hours` | hours, from seconds | `5400 \| hours` | `1.5` |
//!
//! # Spans of seconds
//!
//! Parts of a unit that is not shown are cut off, as a clock does it.
//!
//! | filter | gives | example | result |
//! |---|---|---|---|
//! | `hms` | hours, minutes and seconds; the hours grow as they must | `3723.9 \| hms` | `"01:02:03"` |
//! | `hm` | hours and minutes | `360059 \| hm` | `"100:00"` |
//! | `duration` | the form of ISO 8601; `-` in front of a negative one | `3723.9 \| duration` | `"PT1H2M3S"` |
//! | `milliseconds` | the nearest integer of milliseconds | `0.25 \| milliseconds` | `250` |
//!
//! # Moments
//!
//! They are seconds since 1970-01-01T00:00:00Z, such as `printer.clock_unix_seconds`. Fractions
//! that are not shown are cut off. An `offset` is `'+01:00'` or `'Z'`, the default. What is too
//! far away for a form (from the end of the year 9999 on, before the year 0, for `http_date`
//! before 1970) gives null.
//!
//! | filter | gives | example | result |
//! |---|---|---|---|
//! | `rfc3339(offset, places)` | RFC 3339, with so many decimal places, 0 to 9; `Z` for an offset of zero | `784111777.25 \| rfc3339(places=2)` | `"1994-11-06T08:49:37.25Z"` |
//! | `http_date` | the date of HTTP (RFC 9110) | `784111777 \| http_date` | `"Sun, 06 Nov 1994 08:49:37 GMT"` |
//! | `internet_date(offset)` | the date of mail (RFC 5322) | `880127706 \| internet_date('-06:00')` | `"Fri, 21 Nov 1997 09:55:06 -0600"` |
//! | `unix` | whole seconds, an integer | `784111777.9 \| unix` | `784111777` |
//! | `unix_ms` | whole milliseconds, an integer | `784111777.25 \| unix_ms` | `784111777250` |
//! | `format_time(format, offset)` | any other form, with the usual `%` letters (`strftime`) | `784111777 \| format_time('%d.%m.%Y %H:%M', '+01:00')` | `"06.11.1994 09:49"` |
//!
//! # Text
//!
//! | filter | gives | example | result |
//! |---|---|---|---|
//! | `text` | any value as text, spelled as JSON spells it; text stays as it is | `21.0 \| text` | `"21.0"` |
//! | `ascii` | text with `?` for every character beyond ASCII | `'Tür' \| ascii` | `"T?r"` |
//! | `shorten(n)` | the first `n` characters | `'cable clip' \| shorten(5)` | `"cable"` |
//! | `senml_name` | text as a part of a SenML name (RFC 8428): `_` and hexadecimal digits for every byte beyond letters, digits, `-` and `.` | `'left nozzle' \| senml_name` | `"left_20nozzle"` |

/// Makes the two things that a family of filters offers from the list of its functions.
macro_rules! filters {
    ($($filter:ident),+ $(,)?) => {
        /// Names the family's filters.
        #[cfg(test)]
        pub(super) const NAMES: &[&str] = &[$(stringify!($filter)),+];

        /// Makes the family's filters known.
        pub(super) fn register(environment: &mut minijinja::Environment<'static>) {
            $(environment.add_filter(stringify!($filter), $filter);)+
        }
    };
}

mod moment;
mod number;
mod span;
mod take;
mod text;
mod unit;

#[cfg(test)]
mod tests;

/// Makes every filter known.
pub(super) fn register(environment: &mut minijinja::Environment<'static>) {
    number::register(environment);
    unit::register(environment);
    span::register(environment);
    moment::register(environment);
    text::register(environment);
}
