//! The way from true temperature to ADC code as a table, since logarithms are too slow for the control loop.

use std::sync::Arc;

use super::element::Wired;

/// Coldest point in degrees Celsius; colder temperatures are worked out in full.
const FIRST_CELSIUS: f64 = -60.0;
/// Hottest point in degrees Celsius; hotter temperatures are worked out in full.
const LAST_CELSIUS: f64 = 500.0;
/// Points per kelvin. The error of a straight line is h^2/8 times the second derivative: at 16 bits and with the
/// most strongly bent of the usual curves (a cold 10 kohm thermistor on 100 kohm) that is 0.05 of a code. Whole degrees are points, so that the kinks of a table with
/// rows at whole degrees lie on points too.
const POINTS_PER_KELVIN: f64 = 8.0;

/// Fractional ADC code over true temperature, points joined by straight lines.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Grid {
    codes: Arc<[f64]>,
}

impl Grid {
    pub(super) fn new(wired: &Wired) -> Self {
        let points = ((LAST_CELSIUS - FIRST_CELSIUS) * POINTS_PER_KELVIN) as u32 + 1;
        let celsius = |point: u32| FIRST_CELSIUS + f64::from(point) / POINTS_PER_KELVIN;
        Self {
            codes: (0..points)
                .map(|point| exact_code(wired, celsius(point)))
                .collect(),
        }
    }

    /// Returns the fractional code, or `None` outside the table.
    #[inline]
    pub(super) fn code(&self, celsius: f64) -> Option<f64> {
        let place = (celsius - FIRST_CELSIUS) * POINTS_PER_KELVIN;
        if place < 0.0 {
            return None;
        }
        // A cast saturates, so a far too hot or absent temperature finds no pair of points.
        let point = place as u32;
        let &[low, high] = self.codes.get(point as usize..)?.first_chunk()?;
        Some(low + (high - low) * (place - f64::from(point)))
    }
}

/// Works the fractional code out without the table.
pub(super) fn exact_code(wired: &Wired, celsius: f64) -> f64 {
    wired.divider.fractional_code(wired.curve.ohms(celsius))
}

#[cfg(test)]
mod tests {
    use super::super::curve::Curve;
    use super::super::divider::Divider;
    use super::super::ntc::{Beta, NtcTable, SteinhartHart};
    use super::super::platinum::Platinum;
    use super::super::reporting::Reporting;
    use super::*;

    /// Largest error of the table, in codes of 16 bits, sampled off the points.
    fn largest_error_codes(curve: &Curve, pull_up_ohms: f64) -> f64 {
        let divider = Divider::new(pull_up_ohms, 16, 1.0).unwrap();
        let wired = Wired::known(curve.clone(), divider, Reporting::default());
        let grid = Grid::new(&wired);
        // 0.0173 K has no common measure with the 0.125 K between points.
        let temperatures = (0..32_000).map(|step| -59.9 + f64::from(step) * 0.0173);
        temperatures
            .map(|celsius| (grid.code(celsius).unwrap() - exact_code(&wired, celsius)).abs())
            .fold(0.0, f64::max)
    }

    #[test]
    fn table_is_within_a_sixteenth_of_a_code_at_16_bits() {
        let points = [(25.0, 100e3), (100.0, 6674.0), (250.0, 231.0)];
        let curves = [
            Curve::NtcTable(NtcTable::glass_bead_3950()),
            Curve::NtcTable(NtcTable::glass_bead_4200()),
            Curve::NtcTable(NtcTable::epcos_8018(10e3).unwrap()),
            Curve::NtcBeta(Beta::new(100e3, 3950.0).unwrap()),
            Curve::NtcSteinhartHart(SteinhartHart::through(points).unwrap()),
            Curve::Platinum(Platinum::pt1000()),
            Curve::Platinum(Platinum::pt100()),
        ];
        for curve in &curves {
            for pull_up_ohms in [1000.0, 4700.0, 100_000.0] {
                let error = largest_error_codes(curve, pull_up_ohms);
                assert!(
                    error < 0.0625,
                    "{error} codes with {pull_up_ohms} ohm and {curve:?}"
                );
            }
        }
    }

    #[test]
    fn outside_the_table_there_is_no_answer() {
        let divider = Divider::new(4700.0, 12, 1.0).unwrap();
        let grid = Grid::new(&Wired::known(
            Curve::Platinum(Platinum::pt1000()),
            divider,
            Reporting::default(),
        ));
        for celsius in [-60.01, 500.0, 1e300, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(grid.code(celsius), None, "{celsius}");
        }
        assert!(grid.code(-60.0).is_some() && grid.code(499.99).is_some());
    }
}
