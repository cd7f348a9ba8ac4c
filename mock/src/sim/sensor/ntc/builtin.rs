//! Tables that come with the mock.

use super::super::error::{SensorError, within};
use super::table::NtcTable;

/// Glass-bead thermistor of 100 kohm, B25/50 3950: degrees Celsius and ohm.
///
/// Source: Amwei product page, AMF58-104G3950 (tolerance of R25 2 %).
pub(super) const GLASS_BEAD_3950: &[(f64, f64)] = &[
    (-40.0, 3_306_340.0),
    (0.0, 322_959.0),
    (20.0, 124_833.0),
    (25.0, 100_000.0),
    (40.0, 53_188.0),
    (80.0, 12_493.0),
    (85.0, 10_627.0),
    (100.0, 6_674.0),
    (150.0, 1_711.0),
    (200.0, 575.0),
    (210.0, 474.0),
    (220.0, 392.0),
    (240.0, 274.0),
    (250.0, 231.0),
];

/// Glass-bead thermistor of 100 kohm, B25/50 4200: degrees Celsius and ohm.
///
/// Source: Amwei product page, the AMF58 type with B 4200 (tolerance of R25 2 %).
pub(super) const GLASS_BEAD_4200: &[(f64, f64)] = &[
    (-40.0, 4_124_951.0),
    (0.0, 346_214.0),
    (20.0, 126_771.0),
    (25.0, 100_000.0),
    (40.0, 51_021.0),
    (60.0, 22_693.0),
    (80.0, 10_991.0),
    (85.0, 9_271.0),
    (100.0, 5_688.0),
    (150.0, 1_392.0),
    (200.0, 453.0),
    (210.0, 371.0),
    (220.0, 306.0),
    (240.0, 213.0),
    (250.0, 179.0),
];

/// Thermistor with B25/100 3964: degrees Celsius and R/R25.
///
/// Source: EPCOS data sheet B57861S, page 6, R/T curve 8018.
pub(super) const EPCOS_8018_RATIOS: &[(f64, f64)] = &[
    (0.0, 3.183),
    (25.0, 1.0),
    (60.0, 0.2527),
    (85.0, 0.1091),
    (100.0, 0.0691),
    (155.0, 0.016_537),
];

impl NtcTable {
    /// Returns the table of a 100 kohm glass bead with B25/50 3950, -40 to 250 °C.
    ///
    /// # Source
    /// Amwei product page, AMF58-104G3950.
    #[must_use]
    pub fn glass_bead_3950() -> Self {
        Self::trusted(GLASS_BEAD_3950)
    }

    /// Returns the table of a 100 kohm glass bead with B25/50 4200, -40 to 250 °C.
    ///
    /// # Source
    /// Amwei product page, the AMF58 type with B 4200.
    #[must_use]
    pub fn glass_bead_4200() -> Self {
        Self::trusted(GLASS_BEAD_4200)
    }

    /// Returns the table of a thermistor with B25/100 3964, 0 to 155 °C, for a resistance at 25 °C in ohm.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for a resistance outside 1 ohm to 1 Mohm.
    ///
    /// # Source
    /// EPCOS data sheet B57861S, page 6, R/T curve 8018.
    pub fn epcos_8018(r25_ohms: f64) -> Result<Self, SensorError> {
        within("thermistor resistance at 25 °C", r25_ohms, "ohm", 1.0, 1e6)?;
        Self::trusted(EPCOS_8018_RATIOS).scaled(r25_ohms)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_rows_pass_the_check_that_users_rows_pass() {
        for rows in [GLASS_BEAD_3950, GLASS_BEAD_4200, EPCOS_8018_RATIOS] {
            assert_eq!(NtcTable::from_rows(rows), Ok(NtcTable::trusted(rows)));
        }
    }

    #[test]
    fn all_built_in_parts_have_their_nominal_resistance_at_25() {
        let parts = [
            NtcTable::glass_bead_3950(),
            NtcTable::glass_bead_4200(),
            NtcTable::epcos_8018(100e3).unwrap(),
        ];
        for part in parts {
            assert!((part.ohms(25.0) - 100e3).abs() < 1e-6);
        }
    }
}
