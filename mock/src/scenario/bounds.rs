//! Every limit a scenario's numbers are held to, in one table.

/// Is one bounded quantity: its range and the unit both ends are in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    pub(super) min: f64,
    pub(super) max: f64,
    pub(super) unit: &'static str,
}

impl Bound {
    const fn new(min: f64, max: f64, unit: &'static str) -> Self {
        Self { min, max, unit }
    }

    pub(super) fn holds(&self, value: f64) -> bool {
        (self.min..=self.max).contains(&value)
    }
}

/// A workshop between frost and a hot attic; beyond that the sensor tables end (own choice).
pub(super) const ROOM_CELSIUS: Bound = Bound::new(-40.0, 60.0, "C");
/// Nozzles reach 300 C and special ones 500 C (common practice); nothing printed needs more.
pub(super) const MAX_CELSIUS: Bound = Bound::new(40.0, 500.0, "C");
/// From a bare resistor to a large cast plate (own choice, a decade beyond common practice).
pub(super) const HEAT_CAPACITY: Bound = Bound::new(0.1, 1e5, "J/K");
/// As for the heat capacity.
pub(super) const LOSS: Bound = Bound::new(1e-3, 1e3, "W/K");
/// Up to 1000 W of mains heating is usual (common practice); 0 is a heater without an element.
pub(super) const POWER: Bound = Bound::new(0.0, 5e3, "W");
/// 2 to 8 s is usual (common practice); a minute is a sensor in the wrong place.
pub(super) const DEAD_TIME_S: Bound = Bound::new(0.0, 60.0, "s");
/// Shown noise of 0.1 to 0.5 K is usual (common practice).
pub(super) const NOISE: Bound = Bound::new(0.0, 20.0, "K");
/// Half the width of the on-off band.
pub(super) const HYSTERESIS: Bound = Bound::new(0.05, 50.0, "K");
/// Controller gain, watts per kelvin of error.
pub(super) const GAIN: Bound = Bound::new(1e-3, 1e4, "W/K");
/// Integral time: at least one control period, which is as fast as the sum can be changed.
pub(super) const INTEGRAL_TIME_S: Bound = Bound::new(0.1, 36_000.0, "s");
/// Derivative time; 0 for none.
pub(super) const DERIVATIVE_TIME_S: Bound = Bound::new(0.0, 3_600.0, "s");
/// A job takes at least one control period; a month is longer than any filament lasts.
pub(super) const JOB_S: Bound = Bound::new(0.1, 2_678_400.0, "s");
/// Any moment of a scenario: two months, so that a month-long job fits with its cool-down.
pub(super) const MOMENT_S: Bound = Bound::new(0.0, 5_356_800.0, "s");
/// `printer-up-time` is an integer up to 2^31 - 1 (RFC 8011 section 5.4.29, from memory).
pub(super) const UP_TIME_S: Bound = Bound::new(0.0, 2_147_483_647.0, "s");
/// Rise asked for by the heating-too-slow rule.
pub(super) const RISE: Bound = Bound::new(0.1, 100.0, "K");
/// Periods of the protection rules.
pub(super) const PROTECTION_S: Bound = Bound::new(1.0, 3_600.0, "s");
/// How far below its target a heater may fall.
pub(super) const FALL: Bound = Bound::new(1.0, 200.0, "K");
/// How far above its highest target a heater may come.
pub(super) const ABOVE: Bound = Bound::new(0.0, 200.0, "K");
