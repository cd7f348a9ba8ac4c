//! The usual bounds, by part.
//!
//! Source: common practice, figures within the usual ranges: sensor out of -15 to 300 °C (nozzle) or 150 °C (bed)
//! at once to 1 s; less than 2 to 4 K rise in 20 to 60 s at full power; below target by 5 to 20 K for 20 to 60 s;
//! above target by 15 to 25 K; hard maximum 260 to 300 °C (nozzle), 100 to 130 °C (bed); "reached" window 1 to 3 K.
//! What is chosen here beyond that says so.

use std::time::Duration;

use super::rule::{
    AboveMaximum, AboveTarget, BelowMinimum, FallenAway, HeatingTooSlow, Jump, JumpBound,
    SensorLost,
};
use super::rules::Rules;
use crate::sim::HeaterKind;

impl Rules {
    /// Returns the rules that are common practice at a part.
    #[must_use]
    pub fn usual(part: HeaterKind) -> Self {
        Self {
            sensor_lost: Some(SensorLost {
                period: Duration::from_secs(1),
            }),
            above_maximum: Some(AboveMaximum {
                maximum_celsius: match part {
                    HeaterKind::Extruder => 300.0,
                    HeaterKind::Platform => 130.0,
                    // Chosen here: above the 60 to 90 °C that polycarbonate likes.
                    HeaterKind::Chamber => 100.0,
                },
                period: Duration::ZERO,
            }),
            below_minimum: Some(BelowMinimum {
                minimum_celsius: -15.0,
                period: Duration::ZERO,
            }),
            // Chosen here: ten times what a nozzle of 40 W and 20 J/K rises in a second.
            jump: Some(Jump {
                bound: JumpBound::BetweenReadings { kelvin: 20.0 },
            }),
            above_target: Some(AboveTarget {
                above_target_kelvin: match part {
                    HeaterKind::Extruder => 25.0,
                    HeaterKind::Platform | HeaterKind::Chamber => 15.0,
                },
                period: Duration::ZERO,
                also_when_off: false,
            }),
            fallen_away: Some(FallenAway {
                below_target_kelvin: match part {
                    HeaterKind::Extruder | HeaterKind::Platform => 10.0,
                    // An opened door is no fault.
                    HeaterKind::Chamber => 20.0,
                },
                reached_within_kelvin: 2.0,
                period: match part {
                    HeaterKind::Extruder => Duration::from_secs(30),
                    HeaterKind::Platform | HeaterKind::Chamber => Duration::from_secs(60),
                },
            }),
            heating_too_slow: Some(heating_too_slow(part)),
        }
    }
}

fn heating_too_slow(part: HeaterKind) -> HeatingTooSlow {
    HeatingTooSlow {
        rise_kelvin: 2.0,
        period: match part {
            HeaterKind::Extruder => Duration::from_secs(20),
            // A bed of 180 W rises 0.06 K/s near 110 °C: 2 K take 32 s.
            HeaterKind::Platform => Duration::from_secs(60),
            // Chosen here: a chamber that only its bed warms takes 15 to 40 min for 20 to 30 K, and slows down.
            HeaterKind::Chamber => Duration::from_secs(600),
        },
        // Chosen here: a controller that asks for this much has run out of power.
        at_power_fraction: 0.95,
        // Chosen here: wider than the "reached" window.
        below_target_kelvin: 5.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_rules_pass_their_own_check() {
        for part in HeaterKind::ALL {
            assert_eq!(Rules::usual(part).check(), Ok(()));
        }
    }
}
