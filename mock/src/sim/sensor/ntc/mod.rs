//! NTC thermistors: resistance falls as temperature rises.
//!
//! Three ways to write the same curve, any of which may be the real element or a host's idea of it: a maker's
//! table, the beta formula, the Steinhart-Hart equation.

mod beta;
mod builtin;
mod steinhart_hart;
mod table;

pub use beta::Beta;
pub use steinhart_hart::SteinhartHart;
pub use table::NtcTable;

/// Lowest temperature in degrees Celsius that a thermistor curve answers with; colder ones are taken as this.
///
/// Chosen here: well below the coldest row of the tables, so that the limits of a host bite first.
pub const COLDEST_CELSIUS: f64 = -100.0;

/// Highest temperature in degrees Celsius that a thermistor curve answers with; hotter ones are taken as this.
///
/// Chosen here: above anything a printer reaches. The formulas themselves have no end for a resistance near 0.
pub const HOTTEST_CELSIUS: f64 = 1000.0;

/// 0 °C in kelvin. Source: definition of the Celsius scale.
pub(super) const ZERO_CELSIUS_KELVIN: f64 = 273.15;

/// Reference temperature of thermistor data sheets, 25 °C, in kelvin.
const REFERENCE_KELVIN: f64 = 298.15;

/// Turns a temperature in degrees Celsius into 1/T in 1/K, kept within the curve's ends.
fn reciprocal_of_celsius(celsius: f64) -> f64 {
    1.0 / (celsius.clamp(COLDEST_CELSIUS, HOTTEST_CELSIUS) + ZERO_CELSIUS_KELVIN)
}

/// Turns 1/T in 1/K into degrees Celsius, kept within the curve's ends.
///
/// Near a short circuit the formulas give a reciprocal of 0 or below, which no temperature has: the hottest end.
fn celsius_of_reciprocal(per_kelvin: f64) -> f64 {
    if per_kelvin <= 0.0 {
        return HOTTEST_CELSIUS;
    }
    (1.0 / per_kelvin - ZERO_CELSIUS_KELVIN).clamp(COLDEST_CELSIUS, HOTTEST_CELSIUS)
}
