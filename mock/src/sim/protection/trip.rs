//! A rule that was broken.

use std::fmt;
use std::time::Duration;

use crate::sim::HeaterKind;

/// Names a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Rule {
    /// No temperature for too long.
    SensorLost,
    /// Above the hard maximum.
    AboveMaximum,
    /// Below the lowest believable temperature.
    BelowMinimum,
    /// More change than the physics allow.
    Jump,
    /// Running away upwards from the target.
    AboveTarget,
    /// Below the target after it had been reached.
    FallenAway,
    /// Heated, and does not rise.
    HeatingTooSlow,
}

impl Rule {
    /// Every rule, in order of precedence: of several broken at once the first is reported.
    pub const ALL: [Self; 7] = [
        Self::SensorLost,
        Self::AboveMaximum,
        Self::BelowMinimum,
        Self::Jump,
        Self::AboveTarget,
        Self::FallenAway,
        Self::HeatingTooSlow,
    ];

    /// Returns the rule's name in scenarios and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::SensorLost => "sensor-lost",
            Self::AboveMaximum => "above-maximum",
            Self::BelowMinimum => "below-minimum",
            Self::Jump => "jump",
            Self::AboveTarget => "above-target",
            Self::FallenAway => "fallen-away",
            Self::HeatingTooSlow => "heating-too-slow",
        }
    }

    /// Returns the `printer-state-reasons` keyword for this rule broken at this part.
    ///
    /// Too hot and too cold have their own keywords. A sensor that is lost or jumps, and a heater that does not
    /// heat, are failures of the part. The registry has no `chamber-failure`: a chamber that does not heat is
    /// reported as `chamber-temperature-low`, which is true of it, and a chamber whose sensor cannot be believed as
    /// `other`, since any word on its temperature might be false.
    ///
    /// # Source
    /// PWG 5100.21 (3D keywords) and RFC 8011 s5.4.12 (`other`), as in the IANA IPP registry. Without a severity
    /// suffix a keyword counts as an error.
    #[must_use]
    pub const fn state_reason(self, part: HeaterKind) -> &'static str {
        match (self, part) {
            (Self::AboveMaximum | Self::AboveTarget, HeaterKind::Extruder) => {
                "extruder-temperature-high"
            }
            (Self::AboveMaximum | Self::AboveTarget, HeaterKind::Platform) => {
                "platform-temperature-high"
            }
            (Self::AboveMaximum | Self::AboveTarget, HeaterKind::Chamber) => {
                "chamber-temperature-high"
            }
            (Self::BelowMinimum | Self::FallenAway, HeaterKind::Extruder) => {
                "extruder-temperature-low"
            }
            (Self::BelowMinimum | Self::FallenAway, HeaterKind::Platform) => {
                "platform-temperature-low"
            }
            (Self::BelowMinimum | Self::FallenAway | Self::HeatingTooSlow, HeaterKind::Chamber) => {
                "chamber-temperature-low"
            }
            (Self::SensorLost | Self::Jump | Self::HeatingTooSlow, HeaterKind::Extruder) => {
                "extruder-failure"
            }
            (Self::SensorLost | Self::Jump | Self::HeatingTooSlow, HeaterKind::Platform) => {
                "platform-failure"
            }
            (Self::SensorLost | Self::Jump, HeaterKind::Chamber) => "other",
        }
    }
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A rule that was broken, with the evidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trip {
    /// The rule.
    pub rule: Rule,
    /// The part that it was watched at.
    pub part: HeaterKind,
    /// Virtual time of the observation that broke it.
    pub at: Duration,
    /// What the rule allows, in `unit`.
    pub bound: f64,
    /// What was seen instead, in `unit`.
    pub observed: f64,
    /// Unit of bound and observed: `°C`, `K`, `K/s` or `s`.
    pub unit: &'static str,
}

impl Trip {
    /// Returns the `printer-state-reasons` keyword, see [`Rule::state_reason`].
    #[must_use]
    pub const fn state_reason(&self) -> &'static str {
        self.rule.state_reason(self.part)
    }
}

impl fmt::Display for Trip {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            rule,
            part,
            at,
            bound,
            observed,
            unit,
        } = self;
        let at_s = at.as_secs_f64();
        write!(
            f,
            "{part} {rule} at {at_s:.1} s: {observed:.1} {unit}, bound {bound:.1} {unit}"
        )
    }
}

/// What a rule found, before it is known where and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Finding {
    pub(super) bound: f64,
    pub(super) observed: f64,
    pub(super) unit: &'static str,
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: IANA IPP registry, printer-state-reasons: the temperature and failure keywords of PWG 5100.21, and
    // `other` of RFC 8011 s5.4.12.
    const REGISTERED: [&str; 9] = [
        "extruder-failure",
        "extruder-temperature-high",
        "extruder-temperature-low",
        "platform-failure",
        "platform-temperature-high",
        "platform-temperature-low",
        "chamber-temperature-high",
        "chamber-temperature-low",
        "other",
    ];

    #[test]
    fn every_rule_at_every_part_has_a_registered_keyword() {
        for rule in Rule::ALL {
            for part in HeaterKind::ALL {
                let keyword = rule.state_reason(part);
                assert!(REGISTERED.contains(&keyword), "{keyword}");
                assert!(
                    keyword.starts_with(part.word()) || keyword == "other",
                    "{keyword}"
                );
            }
        }
    }

    #[test]
    fn a_trip_reads_as_one_line() {
        let trip = Trip {
            rule: Rule::AboveMaximum,
            part: HeaterKind::Extruder,
            at: Duration::from_millis(155_500),
            bound: 300.0,
            observed: 300.04,
            unit: "°C",
        };
        assert_eq!(
            trip.to_string(),
            "extruder above-maximum at 155.5 s: 300.0 °C, bound 300.0 °C"
        );
        assert_eq!(trip.state_reason(), "extruder-temperature-high");
    }
}
