//! What the host watches for.

use std::time::Duration;

use super::super::bounds::{self, Bound};
use super::super::error::join;
use super::super::quantity::{At, Quantity, Seconds};
use super::super::raw::{
    RawAboveMaximum, RawAboveTarget, RawBelowMinimum, RawFallenAway, RawHeater, RawHeatingTooSlow,
    RawJump, RawProtection, RawRule, RawSensorLost,
};
use super::{Checked, Checker, place_of};
use crate::sim::HeaterKind;
use crate::sim::protection::{
    AboveMaximum, AboveTarget, BelowMinimum, FallenAway, HeatingTooSlow, Jump, JumpBound, Rules,
    SensorLost,
};

/// A target at the limit overshoots by a little without anything being wrong (own choice).
const ABOVE_KELVIN: f64 = 15.0;
/// Below target by 5 to 20 K for 20 to 60 s is a fault (common practice).
const FALL_KELVIN: f64 = 15.0;
const FALL_FOR: Duration = Duration::from_secs(45);
/// Less than 2 to 4 K in 20 to 60 s at full power is a fault (common practice).
const RISE_WITHIN: Duration = Duration::from_secs(60);

/// Gives what holds where a file says nothing.
fn usual(kind: HeaterKind, max_celsius: f64, above_kelvin: f64) -> Rules {
    let mut rules = Rules::usual(kind);
    if let Some(rule) = &mut rules.above_maximum {
        rule.maximum_celsius = max_celsius + above_kelvin;
    }
    // A chamber is slow by nature, and opened doors are no fault: the usual bounds of the part stay.
    if kind != HeaterKind::Chamber {
        if let Some(rule) = &mut rules.fallen_away {
            rule.below_target_kelvin = FALL_KELVIN;
            rule.period = FALL_FOR;
        }
        if let Some(rule) = &mut rules.heating_too_slow {
            rule.period = RISE_WITHIN;
        }
    }
    rules
}

impl Checker<'_> {
    pub(super) fn protection(
        &self,
        path: &str,
        heater: &RawHeater,
        max_celsius: f64,
    ) -> Checked<Rules> {
        let raw = &heater.protection;
        self.no_short_and_long(path, raw)?;
        let above = raw.above_celsius.as_ref();
        let key = join(path, "above-celsius");
        let above_kelvin = self.or_default(&key, above, bounds::ABOVE, ABOVE_KELVIN)?;
        let usual = usual(*heater.kind.get(), max_celsius, above_kelvin);
        let at = |key| join(path, key);
        let rules = Rules {
            sensor_lost: self.rule(raw.sensor_lost.as_ref(), usual.sensor_lost, |raw, rule| {
                self.sensor_lost(&at("sensor-lost"), raw, rule)
            })?,
            above_maximum: self.rule(
                raw.above_maximum.as_ref(),
                usual.above_maximum,
                |raw, rule| self.above_maximum(&at("above-maximum"), raw, rule),
            )?,
            below_minimum: self.rule(
                raw.below_minimum.as_ref(),
                usual.below_minimum,
                |raw, rule| self.below_minimum(&at("below-minimum"), raw, rule),
            )?,
            jump: self.rule(raw.jump.as_ref(), usual.jump, |raw, rule| {
                self.jump(&at("jump"), raw, rule)
            })?,
            above_target: self.rule(
                raw.above_target.as_ref(),
                usual.above_target,
                |raw, rule| self.above_target(&at("above-target"), raw, rule),
            )?,
            fallen_away: self.rule(
                raw.fallen_away.as_ref(),
                self.short_fallen_away(path, raw, usual.fallen_away)?,
                |raw, rule| self.fallen_away(&at("fallen-away"), raw, rule),
            )?,
            heating_too_slow: self.rule(
                raw.heating_too_slow.as_ref(),
                self.short_heating_too_slow(path, raw, usual.heating_too_slow)?,
                |raw, rule| self.heating_too_slow(&at("heating-too-slow"), raw, rule),
            )?,
        };
        // What depends on several bounds at once, such as a maximum below the minimum.
        rules
            .check()
            .map_err(|error| self.error(&heater.kind, path, error.to_string()))?;
        Ok(rules)
    }

    /// Refuses a rule that is described twice, by the short keys and by its own table.
    fn no_short_and_long(&self, path: &str, raw: &RawProtection) -> Checked<()> {
        let heating = place_of(raw.heating_too_slow.as_ref());
        let fallen = place_of(raw.fallen_away.as_ref());
        for (long, there, short) in [
            (
                "heating-too-slow",
                heating,
                ("rise-celsius", place_of(raw.rise_celsius.as_ref())),
            ),
            (
                "heating-too-slow",
                heating,
                ("rise-within", place_of(raw.rise_within.as_ref())),
            ),
            (
                "fallen-away",
                fallen,
                ("fall-celsius", place_of(raw.fall_celsius.as_ref())),
            ),
            (
                "fallen-away",
                fallen,
                ("fall-for", place_of(raw.fall_for.as_ref())),
            ),
        ] {
            if there.is_some() {
                let problem = format!("cannot stand beside `{long}`, which says the same");
                self.no_strangers(path, &[short], &problem)?;
            }
        }
        Ok(())
    }

    /// Gives a rule as the file has it: the usual one, none, or one with other bounds.
    fn rule<R, T>(
        &self,
        raw: Option<&At<RawRule<R>>>,
        usual: Option<T>,
        with: impl FnOnce(&R, T) -> Checked<T>,
    ) -> Checked<Option<T>> {
        match (raw.map(At::get), usual) {
            (None | Some(RawRule::Watched(true)), usual) => Ok(usual),
            (Some(RawRule::Watched(false)), _) | (_, None) => Ok(None),
            (Some(RawRule::With(raw)), Some(usual)) => with(raw, usual).map(Some),
        }
    }

    fn short_fallen_away(
        &self,
        path: &str,
        raw: &RawProtection,
        usual: Option<FallenAway>,
    ) -> Checked<Option<FallenAway>> {
        let Some(mut rule) = usual else {
            return Ok(None);
        };
        let at = |key| join(path, key);
        let below = raw.fall_celsius.as_ref();
        self.set(
            &at("fall-celsius"),
            below,
            bounds::FALL,
            &mut rule.below_target_kelvin,
        )?;
        self.set_period(
            &at("fall-for"),
            raw.fall_for.as_ref(),
            bounds::PROTECTION_S,
            &mut rule.period,
        )?;
        rule.reached_within_kelvin = rule.reached_within_kelvin.min(rule.below_target_kelvin);
        Ok(Some(rule))
    }

    fn short_heating_too_slow(
        &self,
        path: &str,
        raw: &RawProtection,
        usual: Option<HeatingTooSlow>,
    ) -> Checked<Option<HeatingTooSlow>> {
        let Some(mut rule) = usual else {
            return Ok(None);
        };
        let at = |key| join(path, key);
        let rise = raw.rise_celsius.as_ref();
        self.set(
            &at("rise-celsius"),
            rise,
            bounds::RISE,
            &mut rule.rise_kelvin,
        )?;
        let within = raw.rise_within.as_ref();
        self.set_period(
            &at("rise-within"),
            within,
            bounds::PROTECTION_S,
            &mut rule.period,
        )?;
        Ok(Some(rule))
    }

    fn sensor_lost(
        &self,
        path: &str,
        raw: &RawSensorLost,
        mut rule: SensorLost,
    ) -> Checked<SensorLost> {
        self.patience(path, raw.period.as_ref(), &mut rule.period)?;
        Ok(rule)
    }

    fn above_maximum(
        &self,
        path: &str,
        raw: &RawAboveMaximum,
        mut rule: AboveMaximum,
    ) -> Checked<AboveMaximum> {
        let key = join(path, "maximum-celsius");
        let maximum = raw.maximum_celsius.as_ref();
        self.set(
            &key,
            maximum,
            bounds::HARD_MAXIMUM,
            &mut rule.maximum_celsius,
        )?;
        self.patience(path, raw.period.as_ref(), &mut rule.period)?;
        Ok(rule)
    }

    fn below_minimum(
        &self,
        path: &str,
        raw: &RawBelowMinimum,
        mut rule: BelowMinimum,
    ) -> Checked<BelowMinimum> {
        let key = join(path, "minimum-celsius");
        let minimum = raw.minimum_celsius.as_ref();
        self.set(
            &key,
            minimum,
            bounds::HARD_MINIMUM,
            &mut rule.minimum_celsius,
        )?;
        self.patience(path, raw.period.as_ref(), &mut rule.period)?;
        Ok(rule)
    }

    fn jump(&self, path: &str, raw: &RawJump, usual: Jump) -> Checked<Jump> {
        let (change, rate) = ("change-celsius", "kelvin-per-second");
        let bound = match (&raw.change_celsius, &raw.kelvin_per_second) {
            (None, None) => usual.bound,
            (Some(value), None) => JumpBound::BetweenReadings {
                kelvin: self.number(&join(path, change), value, bounds::CHANGE)?,
            },
            (None, Some(value)) => JumpBound::PerSecond {
                kelvin_per_s: self.number(&join(path, rate), value, bounds::RATE)?,
            },
            (Some(_), Some(value)) => {
                let problem = format!("cannot stand beside `{change}` [keep one of them]");
                return Err(self.error(value, &join(path, rate), problem));
            }
        };
        Ok(Jump { bound })
    }

    fn above_target(
        &self,
        path: &str,
        raw: &RawAboveTarget,
        mut rule: AboveTarget,
    ) -> Checked<AboveTarget> {
        let key = join(path, "above-celsius");
        let above = raw.above_celsius.as_ref();
        self.set(
            &key,
            above,
            bounds::ABOVE_TARGET,
            &mut rule.above_target_kelvin,
        )?;
        self.patience(path, raw.period.as_ref(), &mut rule.period)?;
        rule.also_when_off = raw.also_when_off.unwrap_or(rule.also_when_off);
        Ok(rule)
    }

    fn fallen_away(
        &self,
        path: &str,
        raw: &RawFallenAway,
        mut rule: FallenAway,
    ) -> Checked<FallenAway> {
        let at = |key| join(path, key);
        let below = raw.below_celsius.as_ref();
        self.set(
            &at("below-celsius"),
            below,
            bounds::FALL,
            &mut rule.below_target_kelvin,
        )?;
        let range = Bound {
            max: rule.below_target_kelvin,
            ..bounds::REACHED
        };
        rule.reached_within_kelvin = rule.reached_within_kelvin.min(range.max);
        let reached = raw.reached_within_celsius.as_ref();
        self.set(
            &at("reached-within-celsius"),
            reached,
            range,
            &mut rule.reached_within_kelvin,
        )?;
        self.set_period(
            &at("period"),
            raw.period.as_ref(),
            bounds::PROTECTION_S,
            &mut rule.period,
        )?;
        Ok(rule)
    }

    fn heating_too_slow(
        &self,
        path: &str,
        raw: &RawHeatingTooSlow,
        mut rule: HeatingTooSlow,
    ) -> Checked<HeatingTooSlow> {
        let at = |key| join(path, key);
        let rise = raw.rise_celsius.as_ref();
        self.set(
            &at("rise-celsius"),
            rise,
            bounds::RISE,
            &mut rule.rise_kelvin,
        )?;
        self.set_period(
            &at("period"),
            raw.period.as_ref(),
            bounds::PROTECTION_S,
            &mut rule.period,
        )?;
        if let Some(power) = &raw.at_power_percent {
            let percent = self.number(&at("at-power-percent"), power, bounds::PERCENT)?;
            rule.at_power_fraction = percent / 100.0;
        }
        let below = raw.below_celsius.as_ref();
        self.set(
            &at("below-celsius"),
            below,
            bounds::BELOW_TARGET,
            &mut rule.below_target_kelvin,
        )?;
        Ok(rule)
    }

    /// Sets the period for which something may go on.
    fn patience(
        &self,
        path: &str,
        value: Option<&At<Seconds>>,
        period: &mut Duration,
    ) -> Checked<()> {
        self.set_period(&join(path, "period"), value, bounds::PATIENCE_S, period)
    }

    fn set<Q: Quantity>(
        &self,
        field: &str,
        value: Option<&At<Q>>,
        bound: Bound,
        into: &mut f64,
    ) -> Checked<()> {
        *into = self.or_default(field, value, bound, *into)?;
        Ok(())
    }

    fn set_period(
        &self,
        field: &str,
        value: Option<&At<Seconds>>,
        bound: Bound,
        into: &mut Duration,
    ) -> Checked<()> {
        if let Some(value) = value {
            *into = Duration::from_secs_f64(self.number(field, value, bound)?);
        }
        Ok(())
    }
}
