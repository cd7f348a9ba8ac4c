//! How the host holds a target.

use super::super::bounds;
use super::super::error::join;
use super::super::plan::ControlPlan;
use super::super::quantity::At;
use super::super::raw::{RawControl, RawMethod, RawTuning};
use super::{Checked, Checker, place_of};
use crate::sim::Tick;
use crate::sim::control::{Pid, PidSettings};
use crate::sim::plant::HeaterSpec;
use crate::sim::tuning::{self, StepAnswer};

impl Checker<'_> {
    pub(super) fn control(
        &self,
        path: &str,
        raw: &RawControl,
        spec: &HeaterSpec,
    ) -> Checked<ControlPlan> {
        let hysteresis = [(
            "hysteresis-celsius",
            place_of(raw.hysteresis_celsius.as_ref()),
        )];
        let gains = [
            (
                "gain-watts-per-kelvin",
                place_of(raw.gain_watts_per_kelvin.as_ref()),
            ),
            ("integral-time", place_of(raw.integral_time.as_ref())),
            ("derivative-time", place_of(raw.derivative_time.as_ref())),
        ];
        let rule = [
            ("tuning", place_of(raw.tuning.as_ref())),
            ("closed-loop-time", place_of(raw.closed_loop_time.as_ref())),
        ];
        match raw.method.get() {
            RawMethod::OnOff => {
                let problem = "does not belong to method `on-off`";
                self.no_strangers(path, &gains, problem)?;
                self.no_strangers(path, &rule, problem)?;
                self.on_off(path, raw)
            }
            RawMethod::Pid => {
                self.no_strangers(path, &hysteresis, "does not belong to method `pid`")?;
                let settings = match &raw.tuning {
                    None => {
                        let problem = "needs `tuning` with one of the simc rules";
                        self.no_strangers(path, &rule[1..], problem)?;
                        self.gains(path, raw)?
                    }
                    Some(rule) => {
                        let problem = "cannot stand beside `tuning`, which works it out";
                        self.no_strangers(path, &gains, problem)?;
                        self.tuned(path, raw, rule, spec)?
                    }
                };
                Ok(ControlPlan::Pid(settings))
            }
        }
    }

    fn on_off(&self, path: &str, raw: &RawControl) -> Checked<ControlPlan> {
        let key = "hysteresis-celsius";
        let value = self.needed(path, key, raw, raw.hysteresis_celsius.as_ref())?;
        Ok(ControlPlan::OnOff {
            hysteresis_celsius: self.number(&join(path, key), value, bounds::HYSTERESIS)?,
        })
    }

    fn gains(&self, path: &str, raw: &RawControl) -> Checked<PidSettings> {
        let (gain, integral) = ("gain-watts-per-kelvin", "integral-time");
        let value = self.needed(path, gain, raw, raw.gain_watts_per_kelvin.as_ref())?;
        let time = self.needed(path, integral, raw, raw.integral_time.as_ref())?;
        Ok(PidSettings {
            gain_watts_per_kelvin: self.number(&join(path, gain), value, bounds::GAIN)?,
            integral_time_s: self.number(&join(path, integral), time, bounds::INTEGRAL_TIME_S)?,
            derivative_time_s: self.or_default(
                &join(path, "derivative-time"),
                raw.derivative_time.as_ref(),
                bounds::DERIVATIVE_TIME_S,
                0.0,
            )?,
        })
    }

    fn needed<'v, T>(
        &self,
        path: &str,
        key: &str,
        raw: &RawControl,
        value: Option<&'v At<T>>,
    ) -> Checked<&'v At<T>> {
        value.ok_or_else(|| {
            let word = match raw.method.get() {
                RawMethod::OnOff => "on-off",
                RawMethod::Pid => "pid",
            };
            let problem = format!("method `{word}` needs this key");
            self.error(&raw.method, &join(path, key), problem)
        })
    }

    /// Works the settings out by a rule, on the heater as it is described.
    fn tuned(
        &self,
        path: &str,
        raw: &RawControl,
        rule: &At<RawTuning>,
        spec: &HeaterSpec,
    ) -> Checked<PidSettings> {
        let is_simc = matches!(rule.get(), RawTuning::SimcPi | RawTuning::SimcPid);
        let key = "closed-loop-time";
        let closed_loop = raw.closed_loop_time.as_ref();
        if !is_simc {
            let problem = format!("does not belong to tuning `{}`", rule.get().word());
            self.no_strangers(path, &[(key, place_of(closed_loop))], &problem)?;
        }
        // The tight choice is as long as the dead time (Skogestad 2003).
        let closed_loop_s = self.or_default(
            &join(path, key),
            closed_loop,
            bounds::CLOSED_LOOP_S,
            spec.dead_time_s,
        )?;
        let refuse = |why: &dyn std::fmt::Display| {
            let problem = format!("`{}` finds no gains: {why}", rule.get().word());
            self.error(rule, &join(path, "tuning"), problem)
        };
        let answer = StepAnswer::of(spec).map_err(|error| refuse(&error))?;
        let settings = match rule.get() {
            RawTuning::SimcPi => tuning::simc_pi(&answer, closed_loop_s),
            RawTuning::SimcPid => tuning::simc_pid(&answer, spec.sensor_lag_s, closed_loop_s),
            RawTuning::ZieglerNicholsP => tuning::ziegler_nichols_p(&answer),
            RawTuning::ZieglerNicholsPi => tuning::ziegler_nichols_pi(&answer),
            RawTuning::ZieglerNicholsPid => tuning::ziegler_nichols_pid(&answer),
        }
        .map_err(|error| refuse(&error))?;
        // A rule can give what no controller takes, such as an integral time below its period.
        Pid::new(settings, Tick::PERIOD_S).map_err(|error| refuse(&error))?;
        Ok(settings)
    }
}
