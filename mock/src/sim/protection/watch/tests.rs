//! The latch, precedence, gaps, and what no sequence of readings may do.

use std::time::Duration;

use proptest::prelude::*;

use super::super::super::sensor::{Break, Reading};
use super::super::{AboveMaximum, SensorLost};
use super::*;

fn observation(at_s: u64, reading: Reading) -> Observation {
    Observation {
        at: Duration::from_secs(at_s),
        reading,
        target_celsius: Some(200.0),
        power_fraction: 0.5,
    }
}

#[test]
fn a_trip_holds_until_reset_and_a_cause_that_stays_trips_again() {
    let mut protection =
        Protection::new(HeaterKind::Extruder, Rules::usual(HeaterKind::Extruder)).unwrap();
    assert_eq!(
        protection.observe(&observation(0, Reading::Celsius(200.0))),
        None
    );
    let first = protection.observe(&observation(1, Reading::Celsius(310.0)));
    assert!(first.is_some());
    assert_eq!(
        protection.observe(&observation(2, Reading::Celsius(200.0))),
        first
    );
    protection.reset();
    assert_eq!(protection.tripped(), None);
    assert_eq!(
        protection.observe(&observation(3, Reading::Celsius(200.0))),
        None
    );
    let again = protection
        .observe(&observation(4, Reading::Celsius(310.0)))
        .unwrap();
    assert_eq!(again.at, Duration::from_secs(4));
}

// Open thermistor at target: -40 is below the minimum and a jump of 240 K, both at once.
#[test]
fn of_two_rules_broken_at_once_the_first_by_precedence_is_reported() {
    let mut protection =
        Protection::new(HeaterKind::Extruder, Rules::usual(HeaterKind::Extruder)).unwrap();
    assert_eq!(
        protection.observe(&observation(0, Reading::Celsius(200.0))),
        None
    );
    let trip = protection
        .observe(&observation(1, Reading::Celsius(-40.0)))
        .unwrap();
    assert_eq!(
        (trip.rule, trip.bound, trip.observed),
        (Rule::BelowMinimum, -15.0, -40.0)
    );
}

#[test]
fn a_reading_that_is_no_number_counts_as_none() {
    let rules = Rules {
        sensor_lost: Some(SensorLost {
            period: Duration::ZERO,
        }),
        ..Rules::default()
    };
    let mut protection = Protection::new(HeaterKind::Chamber, rules).unwrap();
    let trip = protection
        .observe(&observation(0, Reading::Celsius(f64::NAN)))
        .unwrap();
    assert_eq!(
        (trip.rule, trip.state_reason()),
        (Rule::SensorLost, "other")
    );
}

// The fall began at 1 s; gaps in between do not start its 30 s anew, nor do they trip.
#[test]
fn gaps_in_the_readings_do_not_stop_the_other_rules() {
    let rules = Rules {
        fallen_away: Rules::usual(HeaterKind::Extruder).fallen_away,
        ..Rules::default()
    };
    let mut protection = Protection::new(HeaterKind::Extruder, rules).unwrap();
    assert_eq!(
        protection.observe(&observation(0, Reading::Celsius(200.0))),
        None
    );
    let reading = |at_s: u64| match at_s % 2 {
        0 => Reading::NotAvailable(Break::Open),
        _ => Reading::Celsius(150.0),
    };
    let tripped = (1..100).find(|&at_s| {
        protection
            .observe(&observation(at_s, reading(at_s)))
            .is_some()
    });
    assert_eq!(tripped, Some(31));
}

#[test]
fn limits_the_wrong_way_round_are_refused() {
    let mut rules = Rules::usual(HeaterKind::Extruder);
    rules.above_maximum = rules.above_maximum.map(|rule| AboveMaximum {
        maximum_celsius: -20.0,
        ..rule
    });
    let refusal = Protection::new(HeaterKind::Extruder, rules).unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "above-maximum: -20 °C is not above the minimum of -15 °C"
    );
}

proptest! {
    #[test]
    fn without_rules_nothing_trips(readings in prop::collection::vec(-300.0..2000.0_f64, 1..50)) {
        let mut protection = Protection::new(HeaterKind::Extruder, Rules::default()).unwrap();
        for (at_s, celsius) in readings.into_iter().enumerate() {
            prop_assert_eq!(protection.observe(&observation(at_s as u64, Reading::Celsius(celsius))), None);
        }
    }

    #[test]
    fn any_trip_holds_whatever_comes_later(readings in prop::collection::vec(-100.0..400.0_f64, 1..50)) {
        let mut protection = Protection::new(HeaterKind::Extruder, Rules::usual(HeaterKind::Extruder)).unwrap();
        let mut first = None;
        for (at_s, celsius) in readings.into_iter().enumerate() {
            let now = protection.observe(&observation(at_s as u64, Reading::Celsius(celsius)));
            prop_assert!(first.is_none() || now == first);
            first = now;
        }
    }
}

/// Watches as [`Protection::observe`] does, but only where the reading is not in the calm range: the
/// way of a host side that looks closely only when it has to.
struct Sparing {
    protection: Protection,
    last_calm_celsius: Option<f64>,
    target_celsius: Option<f64>,
    close_looks: u32,
}

impl Sparing {
    fn observe(&mut self, observation: &Observation) -> Option<Trip> {
        let celsius = observation.reading.celsius().unwrap_or(f64::NAN);
        let same_target = self.target_celsius == observation.target_celsius;
        if same_target && self.close_looks > 0 && self.protection.calm().contains(celsius) {
            self.last_calm_celsius = Some(celsius);
            return None;
        }
        if let Some(celsius) = self.last_calm_celsius.take() {
            self.protection.note_calm(celsius);
        }
        self.target_celsius = observation.target_celsius;
        self.close_looks += 1;
        self.protection.observe(observation)
    }
}

prop_compose! {
    /// Gives a stretch of seconds: the target, how far the reading goes each second, how long.
    fn stretch()(
        target in prop_oneof![Just(None), (20.0..290.0_f64).prop_map(Some)],
        kelvin_per_s in prop_oneof![Just(0.0), -6.0..6.0_f64, -30.0..30.0_f64],
        seconds in 1..90_u32,
        lost in prop::bool::weighted(0.05),
    ) -> (Option<f64>, f64, u32, bool) {
        (target, kelvin_per_s, seconds, lost)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn looking_only_outside_the_calm_trips_just_as_looking_always(
        kind in prop::sample::select(HeaterKind::ALL.to_vec()),
        also_when_off: bool,
        stretches in prop::collection::vec(stretch(), 1..12),
    ) {
        let mut rules = Rules::usual(kind);
        if let Some(rule) = &mut rules.above_target {
            rule.also_when_off = also_when_off;
        }
        let mut always = Protection::new(kind, rules).unwrap();
        let mut sparing = Sparing {
            protection: always.clone(),
            last_calm_celsius: None,
            target_celsius: None,
            close_looks: 0,
        };
        let (mut celsius, mut second) = (22.0_f64, 0);
        for (target_celsius, kelvin_per_s, seconds, lost) in stretches {
            for _ in 0..seconds {
                second += 1;
                // Back and forth within bounds, so that long stretches come near targets too.
                celsius = (celsius + kelvin_per_s).clamp(-30.0, 320.0);
                let observation = Observation {
                    at: Duration::from_secs(second),
                    reading: if lost {
                        Reading::NotAvailable(Break::Open)
                    } else {
                        Reading::Celsius(celsius)
                    },
                    target_celsius,
                    power_fraction: if target_celsius.is_some() { 1.0 } else { 0.0 },
                };
                let trip = always.observe(&observation);
                prop_assert_eq!(sparing.observe(&observation), trip);
                if trip.is_some() {
                    return Ok(());
                }
            }
        }
    }
}

#[test]
fn a_heater_at_its_target_is_calm() {
    let kind = HeaterKind::Extruder;
    let mut protection = Protection::new(kind, Rules::usual(kind)).unwrap();
    for second in 0..60 {
        protection.observe(&observation(second, Reading::Celsius(199.5)));
    }
    let calm = protection.calm();
    assert!(calm.contains(199.0) && calm.contains(201.0));
    // Fallen away by 10 K or above by 25 K; half the jump bound of 20 K is nearer on that side.
    assert!(!calm.contains(189.9) && !calm.contains(209.6));
}
