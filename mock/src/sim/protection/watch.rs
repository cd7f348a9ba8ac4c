//! The protection of one part: all its rules, and the latch.

use super::error::ProtectionError;
use super::observation::Observation;
use super::rule::{
    AboveTargetWatch, FallenAwayWatch, HeatingTooSlowWatch, JumpWatch, LimitWatch, Seen,
    SensorLostWatch,
};
use super::rules::Rules;
use super::span::Span;
use super::trip::{Finding, Rule, Trip};
use crate::sim::HeaterKind;

/// Watches one part, and stays tripped until somebody resets it.
#[derive(Clone, Debug)]
pub struct Protection {
    part: HeaterKind,
    rules: Rules,
    memory: Memory,
    tripped: Option<Trip>,
    calm: Span,
}

/// What the rules remember between observations.
#[derive(Clone, Copy, Debug, Default)]
struct Memory {
    sensor_lost: SensorLostWatch,
    above_maximum: LimitWatch,
    below_minimum: LimitWatch,
    jump: JumpWatch,
    above_target: AboveTargetWatch,
    fallen_away: FallenAwayWatch,
    heating_too_slow: HeatingTooSlowWatch,
}

impl Protection {
    /// Makes the protection of a part.
    ///
    /// # Errors
    /// Those of [`Rules::check`].
    pub fn new(part: HeaterKind, rules: Rules) -> Result<Self, ProtectionError> {
        rules.check()?;
        Ok(Self {
            part,
            rules,
            memory: Memory::default(),
            tripped: None,
            calm: Span::NONE,
        })
    }

    /// Looks at one moment; moments come in order of time.
    ///
    /// Returns the first trip, again and again until [`Self::reset`]. Readings without a temperature concern the
    /// lost sensor only: the other rules neither trip on them nor forget what they were waiting for.
    pub fn observe(&mut self, observation: &Observation) -> Option<Trip> {
        if self.tripped.is_none() {
            self.tripped =
                self.memory
                    .first_finding(&self.rules, observation)
                    .map(|(rule, finding)| Trip {
                        rule,
                        part: self.part,
                        at: observation.at,
                        bound: finding.bound,
                        observed: finding.observed,
                        unit: finding.unit,
                    });
            self.calm = match self.tripped {
                None => self.memory.calm(&self.rules, observation),
                Some(_) => Span::NONE,
            };
        }
        self.tripped
    }

    /// Returns the range of readings, with the last target, that no rule finds anything in, nor
    /// remembers anything of but the last of them; they need no [`Self::observe`].
    pub(in crate::sim) fn calm(&self) -> Span {
        if self.tripped.is_some() {
            Span::ALL
        } else {
            self.calm
        }
    }

    /// Takes note of the last of some readings in the calm range.
    pub(in crate::sim) fn note_calm(&mut self, celsius: f64) {
        self.memory.jump.note(celsius);
    }

    /// Returns the trip that holds, if any.
    #[must_use]
    pub const fn tripped(&self) -> Option<Trip> {
        self.tripped
    }

    /// Clears a trip, as a person does at the machine, and forgets what came before. A cause that is still there
    /// trips again.
    pub fn reset(&mut self) {
        self.tripped = None;
        self.memory = Memory::default();
        self.calm = Span::NONE;
    }
}

impl Memory {
    /// Gives the calm round an observation that no rule found anything in.
    fn calm(&self, rules: &Rules, observation: &Observation) -> Span {
        let Some(celsius) = observation.reading.celsius() else {
            return Span::NONE;
        };
        let target_celsius = observation.target_celsius;
        let mut calm = Span::ALL;
        let mut within = |range: Option<(f64, f64)>| {
            calm = calm.and(range.map_or(Span::NONE, |(low, high)| Span::well_between(low, high)));
        };
        if let Some(rule) = rules.above_maximum {
            within(Some((f64::NEG_INFINITY, rule.maximum_celsius)));
        }
        if let Some(rule) = rules.below_minimum {
            within(Some((rule.minimum_celsius, f64::INFINITY)));
        }
        if let Some(rule) = rules.jump {
            within(JumpWatch::calm(&rule, celsius));
        }
        if let Some(rule) = rules.above_target {
            within(self.above_target.calm(&rule, target_celsius));
        }
        if let (Some(rule), Some(target)) = (rules.fallen_away, target_celsius) {
            within(self.fallen_away.calm(&rule, target));
        }
        if let (Some(rule), Some(target)) = (rules.heating_too_slow, target_celsius) {
            within(Some((target - rule.below_target_kelvin, f64::INFINITY)));
        }
        if calm.contains(celsius) {
            calm
        } else {
            Span::NONE
        }
    }

    /// Shows the observation to every rule, so that none misses it, and returns the first finding by precedence.
    fn first_finding(
        &mut self,
        rules: &Rules,
        observation: &Observation,
    ) -> Option<(Rule, Finding)> {
        let celsius = observation
            .reading
            .celsius()
            .filter(|celsius| !celsius.is_nan());
        let lost = rules
            .sensor_lost
            .and_then(|rule| {
                self.sensor_lost
                    .observe(&rule, observation.at, celsius.is_none())
            })
            .map(|finding| (Rule::SensorLost, finding));
        let Some(celsius) = celsius else { return lost };
        let seen = &Seen {
            at: observation.at,
            celsius,
            target_celsius: observation.target_celsius,
            power_fraction: observation.power_fraction,
        };
        let above = rules
            .above_maximum
            .and_then(|rule| self.above_maximum.above(&rule, seen));
        let below = rules
            .below_minimum
            .and_then(|rule| self.below_minimum.below(&rule, seen));
        let jump = rules.jump.and_then(|rule| self.jump.observe(&rule, seen));
        let runaway = rules
            .above_target
            .and_then(|rule| self.above_target.observe(&rule, seen));
        let fallen = rules
            .fallen_away
            .and_then(|rule| self.fallen_away.observe(&rule, seen));
        let slow = rules
            .heating_too_slow
            .and_then(|rule| self.heating_too_slow.observe(&rule, seen));
        let by_precedence = [
            (Rule::AboveMaximum, above),
            (Rule::BelowMinimum, below),
            (Rule::Jump, jump),
            (Rule::AboveTarget, runaway),
            (Rule::FallenAway, fallen),
            (Rule::HeatingTooSlow, slow),
        ];
        by_precedence
            .into_iter()
            .find_map(|(rule, finding)| finding.map(|finding| (rule, finding)))
    }
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod trajectories;
