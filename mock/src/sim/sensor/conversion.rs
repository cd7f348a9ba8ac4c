//! The host's own conversion from ADC code to temperature, which need not be that of the real element.

use std::sync::Arc;

use super::curve::Curve;
use super::divider::Divider;
use super::reading::{Break, Reading};
use super::reporting::Reporting;

/// A host's idea of its element's curve, and how it reports the result.
#[derive(Clone, Debug, PartialEq)]
pub struct Conversion {
    /// The curve that the host was told, right or wrong for the element.
    pub curve: Curve,
    /// Range, rounding and rails.
    pub reporting: Reporting,
}

impl Conversion {
    /// Returns what the host reports for a resistance in ohm that it has worked out: infinite is an open circuit,
    /// 0 a short.
    #[must_use]
    pub fn reading(&self, ohms: f64) -> Reading {
        let celsius = self.curve.celsius(ohms);
        if ohms.is_infinite() {
            self.reporting.present_broken(Break::Open, celsius)
        } else if ohms <= 0.0 {
            self.reporting.present_broken(Break::Short, celsius)
        } else {
            Reading::Celsius(self.reporting.present(celsius))
        }
    }

    /// Works out the reading of every code of an ADC, so that one reading is one look-up.
    pub(super) fn tabulate(&self, divider: &Divider) -> Arc<[Reading]> {
        (0..=divider.full_scale_code())
            .map(|code| self.reading(divider.ohms(code)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::ntc::{Beta, NtcTable};
    use super::super::platinum::Platinum;
    use super::super::reporting::Rails;
    use super::*;

    /// Real temperature and what the host shows, both in degrees Celsius.
    type Shown = &'static [(f64, f64)];

    // Source: computed from the makers' tables: what a host with one fixed B makes of the real element.
    const TYPE_3950: Shown = &[(100.0, 101.6), (200.0, 215.1), (250.0, 277.2)];
    const TYPE_4200: Shown = &[(60.0, 60.1), (100.0, 101.2), (200.0, 210.2), (250.0, 268.0)];

    #[test]
    fn bare_beta_formula_over_reads_a_hot_nozzle() {
        for (element, beta_kelvin, rows) in [
            (NtcTable::glass_bead_3950(), 3950.0, TYPE_3950),
            (NtcTable::glass_bead_4200(), 4200.0, TYPE_4200),
        ] {
            let curve = Curve::NtcBeta(Beta::new(100e3, beta_kelvin).unwrap());
            let host = Conversion {
                curve,
                reporting: Reporting::default(),
            };
            for &(celsius, shown) in rows {
                let found = host.reading(element.ohms(celsius)).celsius().unwrap();
                assert!((found - shown).abs() <= 0.05, "{celsius}: {found}");
            }
        }
    }

    #[test]
    fn an_open_thermistor_reads_lowest_and_a_shorted_one_highest() {
        let curve = Curve::NtcTable(NtcTable::glass_bead_3950());
        let host = Conversion {
            curve,
            reporting: Reporting::new(-40.0, 300.0, Rails::Number, None).unwrap(),
        };
        assert_eq!(host.reading(f64::INFINITY), Reading::Celsius(-40.0));
        assert_eq!(host.reading(0.0), Reading::Celsius(300.0));
    }

    #[test]
    fn an_open_platinum_sensor_reads_highest_and_a_shorted_one_lowest() {
        let curve = Curve::Platinum(Platinum::pt1000());
        let host = Conversion {
            curve,
            reporting: Reporting::new(-40.0, 300.0, Rails::Number, None).unwrap(),
        };
        assert_eq!(host.reading(f64::INFINITY), Reading::Celsius(300.0));
        assert_eq!(host.reading(0.0), Reading::Celsius(-40.0));
    }

    #[test]
    fn a_host_that_knows_its_rails_reports_no_number() {
        let curve = Curve::NtcTable(NtcTable::glass_bead_3950());
        let reporting = Reporting::new(-40.0, 300.0, Rails::NotAvailable, None).unwrap();
        let table =
            Conversion { curve, reporting }.tabulate(&Divider::new(4700.0, 10, 1.0).unwrap());
        assert_eq!(table.len(), 1024);
        assert_eq!(table[0], Reading::NotAvailable(Break::Short));
        assert_eq!(table[1023], Reading::NotAvailable(Break::Open));
        assert!(
            table[1..1023]
                .iter()
                .all(|reading| reading.celsius().is_some())
        );
    }
}
