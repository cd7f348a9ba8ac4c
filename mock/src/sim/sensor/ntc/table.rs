//! A maker's table of resistances.

use super::super::error::{SensorError, within};
use super::{ZERO_CELSIUS_KELVIN, celsius_of_reciprocal, reciprocal_of_celsius};

/// A thermistor curve through the rows of a table.
///
/// Between two rows `ln R` is taken as linear in `1/T`, which is the beta formula with the B of those two rows;
/// beyond the ends the outermost pair goes on. Linear in the temperature itself would be simpler and is not good
/// enough for the 50 K steps of short tables: leaving 150 °C out of the 3950 table, it misses by 5.5 K, this way
/// by 0.4 K.
#[derive(Clone, Debug, PartialEq)]
pub struct NtcTable {
    /// From cold to hot, so falling in both numbers.
    rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Row {
    per_kelvin: f64,
    ln_ohms: f64,
}

impl NtcTable {
    /// Makes a curve from rows of temperature in degrees Celsius and resistance in ohm, cold to hot.
    ///
    /// # Errors
    /// [`SensorError::TooFewRows`] below two rows; [`SensorError::OutOfRange`] for a temperature outside -100 to
    /// 1000 °C or a resistance outside 0.001 ohm to 1 Gohm; [`SensorError::NotFalling`] for a row that is not
    /// hotter and lower than the one before it.
    pub fn from_rows(rows: &[(f64, f64)]) -> Result<Self, SensorError> {
        if rows.len() < 2 {
            return Err(SensorError::TooFewRows { rows: rows.len() });
        }
        for &(celsius, ohms) in rows {
            within(
                "thermistor table temperature",
                celsius,
                "°C",
                super::COLDEST_CELSIUS,
                super::HOTTEST_CELSIUS,
            )?;
            within("thermistor table resistance", ohms, "ohm", 1e-3, 1e9)?;
        }
        for (before, (colder, (celsius, ohms))) in rows.iter().zip(&rows[1..]).enumerate() {
            if celsius <= &colder.0 || ohms >= &colder.1 {
                return Err(SensorError::NotFalling {
                    row: before + 2,
                    celsius: *celsius,
                    ohms: *ohms,
                });
            }
        }
        Ok(Self::trusted(rows))
    }

    /// Takes rows that are known to fall.
    pub(super) fn trusted(rows: &[(f64, f64)]) -> Self {
        let row = |&(celsius, ohms): &(f64, f64)| Row {
            per_kelvin: 1.0 / (celsius + ZERO_CELSIUS_KELVIN),
            ln_ohms: ohms.ln(),
        };
        Self {
            rows: rows.iter().map(row).collect(),
        }
    }

    /// Makes every resistance `factor` times as large, 1e-6 to 1e6: a part off its nominal value (1.02 for one
    /// 2 % high), or a table of ratios R/R25 turned into one of ohms.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for a factor outside these bounds.
    pub fn scaled(mut self, factor: f64) -> Result<Self, SensorError> {
        within("thermistor resistance factor", factor, "times", 1e-6, 1e6)?;
        for row in &mut self.rows {
            row.ln_ohms += factor.ln();
        }
        Ok(self)
    }

    /// Returns the resistance in ohm at a temperature.
    #[must_use]
    pub fn ohms(&self, celsius: f64) -> f64 {
        let wanted = reciprocal_of_celsius(celsius);
        let (cold, hot) = self.pair(self.rows.partition_point(|row| row.per_kelvin > wanted));
        let slope = (hot.ln_ohms - cold.ln_ohms) / (hot.per_kelvin - cold.per_kelvin);
        (cold.ln_ohms + slope * (wanted - cold.per_kelvin)).exp()
    }

    /// Returns the temperature in degrees Celsius at a resistance in ohm: 0 gives the hottest end, infinity the
    /// coldest.
    #[must_use]
    pub fn celsius(&self, ohms: f64) -> f64 {
        let wanted = ohms.max(0.0).ln();
        let (cold, hot) = self.pair(self.rows.partition_point(|row| row.ln_ohms > wanted));
        let slope = (hot.per_kelvin - cold.per_kelvin) / (hot.ln_ohms - cold.ln_ohms);
        celsius_of_reciprocal(cold.per_kelvin + slope * (wanted - cold.ln_ohms))
    }

    /// Returns the two rows round a place, or the outermost two for a place beyond an end.
    fn pair(&self, place: usize) -> (Row, Row) {
        let hot = place.clamp(1, self.rows.len() - 1);
        (self.rows[hot - 1], self.rows[hot])
    }
}

#[cfg(test)]
mod tests {
    use super::super::builtin::{EPCOS_8018_RATIOS, GLASS_BEAD_3950, GLASS_BEAD_4200};
    use super::super::{COLDEST_CELSIUS, HOTTEST_CELSIUS};
    use super::*;
    use proptest::prelude::*;

    const BUILT_IN: [&[(f64, f64)]; 3] = [GLASS_BEAD_3950, GLASS_BEAD_4200, EPCOS_8018_RATIOS];

    #[test]
    fn every_row_is_reproduced_both_ways() {
        for rows in BUILT_IN {
            let table = NtcTable::trusted(rows);
            for &(celsius, ohms) in rows {
                assert!((table.celsius(ohms) - celsius).abs() < 1e-9, "{celsius}");
                assert!(
                    (table.ohms(celsius) / ohms - 1.0).abs() < 1e-12,
                    "{celsius}"
                );
            }
        }
    }

    // Each inner row left out in turn and looked up in the rest; 0.5 K is the largest miss, at 25 °C of the
    // EPCOS table with neighbours 60 K apart (0.3 K and 0.4 K for the glass beads).
    #[test]
    fn a_row_left_out_is_found_again_within_half_a_kelvin() {
        for rows in BUILT_IN {
            for left_out in 1..rows.len() - 1 {
                let (celsius, ohms) = rows[left_out];
                let mut rest = rows.to_vec();
                rest.remove(left_out);
                let miss = NtcTable::from_rows(&rest).unwrap().celsius(ohms) - celsius;
                assert!(miss.abs() < 0.505, "{celsius}: {miss}");
            }
        }
    }

    #[test]
    fn a_part_two_percent_high_reads_cold() {
        // dT = -ln(1.02) T^2/B = -0.0198 * 298.15^2 / 3894 = -0.452 K; 3894 is B between the rows 25 and 40.
        let nominal = NtcTable::glass_bead_3950();
        let high = NtcTable::glass_bead_3950().scaled(1.02).unwrap();
        let off = nominal.celsius(high.ohms(25.0)) - 25.0;
        assert!((off + 0.45).abs() < 0.02, "{off}");
    }

    #[test]
    fn short_and_open_circuits_end_at_the_ends_of_the_curve() {
        let table = NtcTable::glass_bead_3950();
        assert_eq!(table.celsius(0.0).to_bits(), HOTTEST_CELSIUS.to_bits());
        assert_eq!(
            table.celsius(f64::INFINITY).to_bits(),
            COLDEST_CELSIUS.to_bits()
        );
    }

    #[test]
    fn rows_out_of_order_are_refused_by_number() {
        let refusal =
            NtcTable::from_rows(&[(0.0, 300e3), (50.0, 40e3), (25.0, 100e3)]).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "thermistor table row 3, 25 °C and 100000 ohm, does not follow its predecessor (temperature must rise \
             and resistance fall from row to row)"
        );
        assert_eq!(
            NtcTable::from_rows(&[(0.0, 1e3)]),
            Err(SensorError::TooFewRows { rows: 1 })
        );
        assert!(NtcTable::from_rows(&[(0.0, 1e3), (f64::NAN, 1e2)]).is_err());
    }

    proptest! {
        #[test]
        fn ohms_and_celsius_undo_each_other(celsius in -100.0..1000.0_f64, which in 0..3_usize) {
            let table = NtcTable::trusted(BUILT_IN[which]);
            prop_assert!((table.celsius(table.ohms(celsius)) - celsius).abs() < 1e-8);
        }

        #[test]
        fn resistance_falls_everywhere(celsius in -99.0..999.0_f64, more in 1e-3..1.0_f64, which in 0..3_usize) {
            let table = NtcTable::trusted(BUILT_IN[which]);
            prop_assert!(table.ohms(celsius + more) < table.ohms(celsius));
        }
    }
}
