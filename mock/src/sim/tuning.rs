//! Tuning rules: from what a heater does after a step of power to the settings of its controller.
//!
//! Owns: the reaction-curve rules of Ziegler and Nichols and the SIMC rules of Skogestad. Does not own:
//! the measuring of a heater. The rules give a start to tune from, on a model; whether a real heater
//! is safe with the result is for its own protection to ensure.

use thiserror::Error;

use super::control::PidSettings;
use super::plant::HeaterSpec;

/// Describes a heater by its answer to a step of power: nothing for the dead time, then a first-order
/// rise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepAnswer {
    /// Final rise per power, K/W; above 0.
    pub gain_kelvin_per_watt: f64,
    /// Time constant of the rise, s; above 0.
    pub lag_s: f64,
    /// Time before anything happens, s; 0 or more.
    pub dead_time_s: f64,
}

/// Says why a rule gives no settings.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TuningError {
    /// A number is one no heater has, or one the rule cannot use.
    #[error("{quantity} is {value} {unit} ({hint})")]
    Unusable {
        /// The quantity's name.
        quantity: &'static str,
        /// What was given.
        value: f64,
        /// The unit.
        unit: &'static str,
        /// What would do.
        hint: &'static str,
    },
    /// The rule asks for a gain or a time too large to be a number.
    #[error(
        "tuning gives no finite settings (dead time and closed-loop time are too short against the lag)"
    )]
    NotFinite,
}

impl StepAnswer {
    /// Gives the answer of a modelled heater with the fan off and no filament moving: gain 1/G, lag
    /// C/G. A sensor's lag is not in it; see [`simc_pid`].
    ///
    /// # Errors
    /// [`TuningError::Unusable`] for a heater without a loss: its rise has no end.
    pub fn of(spec: &HeaterSpec) -> Result<Self, TuningError> {
        let loss = spec.loss_watts_per_kelvin;
        let answer = Self {
            gain_kelvin_per_watt: 1.0 / loss,
            lag_s: spec.heat_capacity_joules_per_kelvin / loss,
            dead_time_s: spec.dead_time_s,
        };
        above_zero("loss", loss, "W/K")?;
        answer.check()?;
        Ok(answer)
    }

    fn check(&self) -> Result<(), TuningError> {
        above_zero("process gain", self.gain_kelvin_per_watt, "K/W")?;
        above_zero("lag", self.lag_s, "s")?;
        zero_or_more("dead time", self.dead_time_s)
    }

    /// Gives T/(K L), which every reaction-curve rule multiplies.
    fn reaction(&self) -> Result<f64, TuningError> {
        self.check()?;
        if self.dead_time_s <= 0.0 {
            return Err(TuningError::Unusable {
                quantity: "dead time",
                value: self.dead_time_s,
                unit: "s",
                hint: "the reaction curve needs more than 0; SIMC with a closed-loop time does not",
            });
        }
        Ok(self.lag_s / (self.gain_kelvin_per_watt * self.dead_time_s))
    }
}

/// Tunes proportional control: Kc = T/(K L).
///
/// # Errors
/// [`TuningError::Unusable`] for a gain, a lag or a dead time that is not above 0;
/// [`TuningError::NotFinite`] if the result overflows.
///
/// # Source
/// Ziegler and Nichols 1942, Optimum Settings for Automatic Controllers, reaction curve (from
/// memory). The rules aim at quarter-amplitude decay and are meant for dead times of 0.1 to 1 lag.
pub fn ziegler_nichols_p(answer: &StepAnswer) -> Result<PidSettings, TuningError> {
    finite(PidSettings {
        gain_watts_per_kelvin: answer.reaction()?,
        integral_time_s: f64::INFINITY,
        derivative_time_s: 0.0,
    })
}

/// Tunes proportional-integral control: Kc = 0.9 T/(K L), Ti = L/0.3.
///
/// # Errors
/// As [`ziegler_nichols_p`].
///
/// # Source
/// As [`ziegler_nichols_p`].
pub fn ziegler_nichols_pi(answer: &StepAnswer) -> Result<PidSettings, TuningError> {
    finite(PidSettings {
        gain_watts_per_kelvin: 0.9 * answer.reaction()?,
        integral_time_s: answer.dead_time_s / 0.3,
        derivative_time_s: 0.0,
    })
}

/// Tunes full PID control: Kc = 1.2 T/(K L), Ti = 2 L, Td = L/2.
///
/// # Errors
/// As [`ziegler_nichols_p`].
///
/// # Source
/// As [`ziegler_nichols_p`].
pub fn ziegler_nichols_pid(answer: &StepAnswer) -> Result<PidSettings, TuningError> {
    finite(PidSettings {
        gain_watts_per_kelvin: 1.2 * answer.reaction()?,
        integral_time_s: 2.0 * answer.dead_time_s,
        derivative_time_s: 0.5 * answer.dead_time_s,
    })
}

/// Tunes proportional-integral control for a closed-loop time constant tauc:
/// Kc = (1/k) tau1/(tauc + theta), tauI = min(tau1, 4 (tauc + theta)).
///
/// The tight choice is tauc = theta (gain margin about 3); larger is smoother.
///
/// # Errors
/// [`TuningError::Unusable`] for a gain or a lag that is not above 0, a time below 0, and for dead
/// time and closed-loop time both 0; [`TuningError::NotFinite`] if the result overflows.
///
/// # Source
/// Skogestad 2003, Simple analytic rules for model reduction and PID controller tuning; the rule is
/// quoted in the author's readme on his university page.
pub fn simc_pi(answer: &StepAnswer, closed_loop_s: f64) -> Result<PidSettings, TuningError> {
    simc_pid(answer, 0.0, closed_loop_s)
}

/// Tunes PID control of a heater whose sensor trails by a second, shorter lag tau2.
///
/// The rule's series form, tauD = tau2, is turned into the ideal form of [`PidSettings`] with the
/// factor 1 + tauD/tauI.
///
/// # Errors
/// As [`simc_pi`]; also [`TuningError::Unusable`] for a second lag longer than the first.
///
/// # Source
/// As [`simc_pi`]; second-order case and conversion from memory.
pub fn simc_pid(
    answer: &StepAnswer,
    second_lag_s: f64,
    closed_loop_s: f64,
) -> Result<PidSettings, TuningError> {
    answer.check()?;
    zero_or_more("second lag", second_lag_s)?;
    zero_or_more("closed-loop time", closed_loop_s)?;
    let unusable = |quantity, value, hint| {
        Err(TuningError::Unusable {
            quantity,
            value,
            unit: "s",
            hint,
        })
    };
    if second_lag_s > answer.lag_s {
        let hint = "the longer lag goes first";
        return unusable("second lag", second_lag_s, hint);
    }
    let reach_s = closed_loop_s + answer.dead_time_s;
    if reach_s <= 0.0 {
        let hint = "use more than 0 where there is no dead time";
        return unusable("closed-loop time", closed_loop_s, hint);
    }
    let gain = answer.lag_s / (answer.gain_kelvin_per_watt * reach_s);
    let integral_s = answer.lag_s.min(4.0 * reach_s);
    let factor = 1.0 + second_lag_s / integral_s;
    finite(PidSettings {
        gain_watts_per_kelvin: gain * factor,
        integral_time_s: integral_s * factor,
        derivative_time_s: second_lag_s / factor,
    })
}

fn above_zero(quantity: &'static str, value: f64, unit: &'static str) -> Result<(), TuningError> {
    if value > 0.0 && value < f64::INFINITY {
        return Ok(());
    }
    Err(TuningError::Unusable {
        quantity,
        value,
        unit,
        hint: "use more than 0",
    })
}

fn zero_or_more(quantity: &'static str, value: f64) -> Result<(), TuningError> {
    if (0.0..f64::INFINITY).contains(&value) {
        return Ok(());
    }
    Err(TuningError::Unusable {
        quantity,
        value,
        unit: "s",
        hint: "use 0 or more",
    })
}

/// Lets settings through that a controller can be built from; an infinite integral time is one.
fn finite(settings: PidSettings) -> Result<PidSettings, TuningError> {
    if settings.gain_watts_per_kelvin.is_finite() && settings.derivative_time_s.is_finite() {
        return Ok(settings);
    }
    Err(TuningError::NotFinite)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::plant::sample;

    /// The nozzle of the example plants: 20 J/K, 0.12 W/K, 4 s of dead time (common practice).
    const NOZZLE: StepAnswer = StepAnswer {
        gain_kelvin_per_watt: 1.0 / 0.12,
        lag_s: 20.0 / 0.12,
        dead_time_s: 4.0,
    };

    #[track_caller]
    fn assert_settings(settings: PidSettings, gain: f64, integral_s: f64, derivative_s: f64) {
        let close = |a: f64, b: f64| (a - b).abs() < 1e-9 * b.max(1.0);
        assert!(
            close(settings.gain_watts_per_kelvin, gain)
                && close(settings.integral_time_s, integral_s)
                && close(settings.derivative_time_s, derivative_s),
            "{settings:?}"
        );
    }

    #[test]
    fn ziegler_nichols_on_the_nozzle_gives_the_settings_of_the_1942_table() {
        // Source: Ziegler and Nichols 1942; on the nozzle PID 6.0 W/K, 8 s, 2 s; PI 4.5 W/K,
        // 13.33 s. P is T/(K L) = 5 W/K.
        assert_settings(ziegler_nichols_pid(&NOZZLE).unwrap(), 6.0, 8.0, 2.0);
        assert_settings(ziegler_nichols_pi(&NOZZLE).unwrap(), 4.5, 40.0 / 3.0, 0.0);
        let p = ziegler_nichols_p(&NOZZLE).unwrap();
        assert!((p.gain_watts_per_kelvin - 5.0).abs() < 1e-9);
        assert!(p.integral_time_s.is_infinite());
    }

    #[test]
    fn simc_on_the_nozzle_gives_the_tight_settings() {
        // Source: Skogestad 2003, tauc = theta; on the nozzle 2.5 W/K and 32 s.
        assert_settings(simc_pi(&NOZZLE, 4.0).unwrap(), 2.5, 32.0, 0.0);
    }

    #[test]
    fn simc_integral_time_is_the_lag_once_the_loop_is_slow() {
        // min(tau1, 4 (tauc + theta)) with tauc 60 s: min(166.7, 256).
        let settings = simc_pi(&NOZZLE, 60.0).unwrap();
        assert_settings(settings, 20.0 / 64.0, 20.0 / 0.12, 0.0);
    }

    #[test]
    fn second_lag_is_turned_from_series_into_ideal_form() {
        // Series 2.5 W/K, 32 s, 3.2 s: factor 1.1. Source: any textbook on PID forms.
        let settings = simc_pid(&NOZZLE, 3.2, 4.0).unwrap();
        assert_settings(settings, 2.75, 35.2, 3.2 / 1.1);
    }

    #[test]
    fn answer_of_a_spec_is_gain_and_lag_of_the_lumped_heater() {
        let spec = HeaterSpec {
            dead_time_s: 4.0,
            ..sample::NOZZLE
        };
        assert_eq!(StepAnswer::of(&spec).unwrap(), NOZZLE);
        let endless = HeaterSpec {
            loss_watts_per_kelvin: 0.0,
            ..spec
        };
        let error = StepAnswer::of(&endless).expect_err("its rise has no end");
        assert_eq!(error.to_string(), "loss is 0 W/K (use more than 0)");
    }

    #[test]
    fn impossible_input_is_refused_by_name() {
        let with = |gain_kelvin_per_watt, lag_s, dead_time_s| StepAnswer {
            gain_kelvin_per_watt,
            lag_s,
            dead_time_s,
        };
        let named = |error: TuningError| match error {
            TuningError::Unusable { quantity, .. } => quantity,
            TuningError::NotFinite => "not finite",
        };
        for (answer, quantity) in [
            (with(0.0, 100.0, 4.0), "process gain"),
            (with(-8.0, 100.0, 4.0), "process gain"),
            (with(f64::NAN, 100.0, 4.0), "process gain"),
            (with(8.0, 0.0, 4.0), "lag"),
            (with(8.0, f64::INFINITY, 4.0), "lag"),
            (with(8.0, 100.0, -1.0), "dead time"),
            (with(8.0, 100.0, 0.0), "dead time"),
            (with(8.0, 100.0, 1e-320), "not finite"),
        ] {
            for rule in [ziegler_nichols_p, ziegler_nichols_pi, ziegler_nichols_pid] {
                let error = rule(&answer).expect_err("no rule works on it");
                assert_eq!(named(error), quantity, "{answer:?}");
            }
        }
        let no_dead_time = with(8.0, 100.0, 0.0);
        assert!(simc_pi(&no_dead_time, 10.0).is_ok());
        let error = simc_pi(&no_dead_time, 0.0).expect_err("infinite gain");
        assert_eq!(named(error), "closed-loop time");
        let error = simc_pid(&NOZZLE, 200.0, 4.0).expect_err("longer than the first");
        assert_eq!(named(error), "second lag");
        let error = simc_pi(&NOZZLE, -1.0).expect_err("time does not run back");
        assert_eq!(named(error), "closed-loop time");
    }
}
