//! Closed forms that the simulation is held against.
//!
//! # Source
//! Lumped heater: Incropera/DeWitt chapter 5 and Çengel chapter 4 (from memory). On-off cycle: the
//! same formula solved for the time between the two edges of the band.

/// Gives the temperature a time after a step: T_ss - (T_ss - T0) e^(-t/tau).
pub(crate) fn response(start: f64, steady: f64, tau_s: f64, t_s: f64) -> f64 {
    steady - (steady - start) * (-t_s / tau_s).exp()
}

/// Gives the time from one temperature to another on the way to the steady one.
pub(crate) fn time_between_s(from: f64, to: f64, steady: f64, tau_s: f64) -> f64 {
    tau_s * ((steady - from) / (steady - to)).ln()
}

/// Is the limit cycle of on-off control.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OnOffCycle {
    pub(crate) lowest: f64,
    pub(crate) highest: f64,
    pub(crate) on_s: f64,
    pub(crate) off_s: f64,
}

impl OnOffCycle {
    /// Works the cycle out for a room, a steady temperature at full power, a time constant, a dead
    /// time and a band.
    ///
    /// After an edge of the band is reached, the temperature goes on for the dead time; the points
    /// where it turns take the edges' place.
    pub(crate) fn new(room: f64, steady: f64, tau_s: f64, dead_s: f64, band: (f64, f64)) -> Self {
        let highest = response(band.1, steady, tau_s, dead_s);
        let lowest = response(band.0, room, tau_s, dead_s);
        Self {
            lowest,
            highest,
            on_s: time_between_s(lowest, highest, steady, tau_s),
            off_s: time_between_s(highest, lowest, room, tau_s),
        }
    }

    pub(crate) fn period_s(self) -> f64 {
        self.on_s + self.off_s
    }

    pub(crate) fn duty(self) -> f64 {
        self.on_s / self.period_s()
    }
}

mod tests {
    use super::*;

    #[test]
    fn lumped_heater_reaches_the_textbook_fractions() {
        // Source: any textbook's table of 1 - e^(-t/tau), percent to three places.
        let table = [
            (1.0, 63.212),
            (2.0, 86.466),
            (3.0, 95.021),
            (4.0, 98.168),
            (5.0, 99.326),
        ];
        for (t, percent) in table {
            assert!((response(0.0, 100.0, 1.0, t) - percent).abs() < 5e-4);
        }
    }

    #[test]
    fn on_off_cycle_without_dead_time_is_the_published_one() {
        // Values worked out beforehand in double precision, printed to these digits.
        let cycle = OnOffCycle::new(25.0, 125.0, 300.0, 0.0, (59.0, 61.0));
        assert!((cycle.on_s - 9.2315).abs() < 5e-5);
        assert!((cycle.off_s - 17.1475).abs() < 5e-5);
        assert!((cycle.period_s() - 26.3790).abs() < 5e-5);
        assert!((cycle.duty() - 0.349_96).abs() < 5e-6);
    }

    #[test]
    fn dead_time_widens_a_band_of_one_kelvin_to_about_five() {
        // Values worked out beforehand in double precision, printed to these digits.
        let (tau, steady) = (20.0 / 0.12, 25.0 + 40.0 / 0.12);
        let cycle = OnOffCycle::new(25.0, steady, tau, 4.0, (209.0, 211.0));
        assert!((cycle.lowest - 204.64).abs() < 5e-3, "{cycle:?}");
        assert!((cycle.highest - 214.49).abs() < 5e-3, "{cycle:?}");
        assert!((cycle.on_s - 11.05).abs() < 5e-3, "{cycle:?}");
        assert!((cycle.off_s - 8.90).abs() < 5e-3, "{cycle:?}");
        assert!((cycle.period_s() - 19.95).abs() < 5e-3, "{cycle:?}");
    }
}
