//! Controllers: from a target and a reading to the power asked of an element.
//!
//! Owns: on-off control with hysteresis and PID control. Does not own: the plant, the sensor, limits
//! and protection, which must hold whatever a controller does.

use thiserror::Error;

/// Says why a controller cannot be built.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ControlError {
    /// A setting is no use.
    #[error("{setting} is {value} {unit} ({hint})")]
    BadSetting {
        /// The setting's name.
        setting: &'static str,
        /// What was given.
        value: f64,
        /// The unit.
        unit: &'static str,
        /// What would do.
        hint: &'static str,
    },
}

/// Is either kind of controller.
#[derive(Debug, Clone, PartialEq)]
pub enum Controller {
    /// Full power or none.
    OnOff(OnOff),
    /// Power by error, its sum and the reading's rate of change.
    Pid(Pid),
}

impl Controller {
    /// Gives the power in W to hold until the next call, between 0 and `max_watts`.
    ///
    /// Call once per control period. No target, a target of 0 °C or below and a reading that is not
    /// a number all mean off: no power, and what was learnt is forgotten.
    #[inline]
    pub fn output_watts(
        &mut self,
        target_celsius: Option<f64>,
        measured_celsius: f64,
        max_watts: f64,
    ) -> f64 {
        match self {
            Self::OnOff(on_off) => on_off.output_watts(target_celsius, measured_celsius, max_watts),
            Self::Pid(pid) => pid.output_watts(target_celsius, measured_celsius, max_watts),
        }
    }
}

/// Gives the target if there is one to follow and a reading to follow it by.
#[inline]
fn active_target(target_celsius: Option<f64>, measured_celsius: f64) -> Option<f64> {
    // The difference is finite only if both are.
    target_celsius.filter(|target| *target > 0.0 && (*target - measured_celsius).is_finite())
}

/// Switches full power on below the band target ± hysteresis and off above it.
///
/// Inside the band it goes on doing what it did; when first given a target there, it waits for the
/// lower edge.
#[derive(Debug, Clone, PartialEq)]
pub struct OnOff {
    hysteresis_celsius: f64,
    heating: bool,
}

impl OnOff {
    /// Builds a controller with half the width of its band, in K.
    ///
    /// # Errors
    /// [`ControlError::BadSetting`] if the hysteresis is negative or not a number.
    pub fn new(hysteresis_celsius: f64) -> Result<Self, ControlError> {
        check(
            (0.0..f64::INFINITY).contains(&hysteresis_celsius),
            "hysteresis",
            hysteresis_celsius,
            "K",
            "use 0 or more",
        )?;
        Ok(Self {
            hysteresis_celsius,
            heating: false,
        })
    }

    /// Gives the power as [`Controller::output_watts`] says.
    #[inline]
    pub fn output_watts(
        &mut self,
        target_celsius: Option<f64>,
        measured_celsius: f64,
        max_watts: f64,
    ) -> f64 {
        let Some(target) = active_target(target_celsius, measured_celsius) else {
            self.heating = false;
            return 0.0;
        };
        if measured_celsius < target - self.hysteresis_celsius {
            self.heating = true;
        } else if measured_celsius > target + self.hysteresis_celsius {
            self.heating = false;
        }
        if self.heating { max_watts } else { 0.0 }
    }
}

/// Holds the settings of a PID controller in the ideal form
/// `u = Kc (e + 1/Ti ∫ e dt - Td dy/dt)`, u in W, e and y in K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PidSettings {
    /// Kc, W per K of error; above 0.
    pub gain_watts_per_kelvin: f64,
    /// Ti, s; above 0, infinite for no integral action.
    pub integral_time_s: f64,
    /// Td, s; 0 for no derivative action.
    pub derivative_time_s: f64,
}

/// The derivative is smoothed with Td over this number: usual values are 8 to 20 (Åström and
/// Hägglund, from memory).
const DERIVATIVE_FILTER: f64 = 10.0;

/// Controls by error, its sum and the reading's rate of change.
///
/// - Ideal form (see [`PidSettings`]), backward differences, one call per period.
/// - The derivative acts on the reading, smoothed by a first-order filter of Td/10.
/// - When switched on, the proportional part acts on the whole error, so far from its target a
///   heater gets full power at once. From then on a change of target acts through the integral alone
///   (set-point weight 0): the output goes on from where it was, without a jump. Without integral
///   action a change of target acts at once, as nothing else could follow it.
/// - Anti-windup by conditional integration: while the output is at a limit, an error that pushes it
///   further out is not summed up.
///
/// # Source
/// Åström and Hägglund, PID Controllers: set-point weighting, filtered derivative, conditional
/// integration (from memory).
#[derive(Debug, Clone, PartialEq)]
pub struct Pid {
    settings: PidSettings,
    /// Kc over Ti times the period, W/K.
    integral_gain: f64,
    /// Share of the reading's lead over the trailing reading that the latter makes up per period.
    trailing_share: f64,
    /// Factor of that lead, W/K.
    derivative_gain: f64,
    /// Kc if a change of target acts at once, else 0.
    target_gain: f64,
    /// Integral part plus that part of Kc times target which a change of target leaves alone, W.
    integral_watts: f64,
    /// The reading seen through the derivative's filter. The derivative is kept as the reading's lead
    /// over it, because a derivative kept as such decays towards zero for ever, into numbers that
    /// processors are slow with.
    trailing_celsius: f64,
    on: bool,
}

impl Pid {
    /// Builds a controller that is called once per period.
    ///
    /// # Errors
    /// [`ControlError::BadSetting`] for a gain or an integral time that is not above 0, a negative
    /// derivative time, a period that is not above 0 or longer than the integral time, and anything
    /// that is not a number.
    pub fn new(settings: PidSettings, period_s: f64) -> Result<Self, ControlError> {
        let PidSettings {
            gain_watts_per_kelvin: gain,
            integral_time_s: integral_time,
            derivative_time_s: derivative_time,
        } = settings;
        let above_zero = |value: f64| value > 0.0 && value < f64::INFINITY;
        check(above_zero(gain), "gain", gain, "W/K", "use more than 0")?;
        check(
            above_zero(period_s),
            "control period",
            period_s,
            "s",
            "use more than 0",
        )?;
        check(
            integral_time >= period_s,
            "integral time",
            integral_time,
            "s",
            "use at least one control period, infinite for no integral action",
        )?;
        check(
            (0.0..f64::INFINITY).contains(&derivative_time),
            "derivative time",
            derivative_time,
            "s",
            "use 0 or more",
        )?;
        let filter_s = derivative_time / DERIVATIVE_FILTER;
        Ok(Self {
            settings,
            integral_gain: gain / integral_time * period_s,
            trailing_share: period_s / (filter_s + period_s),
            derivative_gain: gain * derivative_time / (filter_s + period_s),
            target_gain: if integral_time.is_infinite() {
                gain
            } else {
                0.0
            },
            integral_watts: 0.0,
            trailing_celsius: 0.0,
            on: false,
        })
    }

    /// Gives the settings it was built with.
    pub fn settings(&self) -> PidSettings {
        self.settings
    }

    /// Gives the power as [`Controller::output_watts`] says.
    #[inline]
    pub fn output_watts(
        &mut self,
        target_celsius: Option<f64>,
        measured_celsius: f64,
        max_watts: f64,
    ) -> f64 {
        let Some(target) = active_target(target_celsius, measured_celsius) else {
            self.on = false;
            return 0.0;
        };
        let gain = self.settings.gain_watts_per_kelvin;
        if !self.on {
            self.on = true;
            self.integral_watts = (gain - self.target_gain) * target;
            self.trailing_celsius = measured_celsius;
        }
        let error = target - measured_celsius;
        let lead = measured_celsius - self.trailing_celsius;
        self.trailing_celsius += self.trailing_share * lead;
        // The integral is the one value that waits for the step before; it is added last so that
        // everything else can be worked out meanwhile.
        let output = self.integral_watts
            - (gain * measured_celsius - self.target_gain * target + self.derivative_gain * lead);
        let (held, outwards) = if output > max_watts {
            (max_watts, error > 0.0)
        } else if output >= 0.0 {
            (output, false)
        } else {
            // Also where the sums overflowed into something that is no number.
            (0.0, error < 0.0)
        };
        if !outwards {
            self.integral_watts += self.integral_gain * error;
        }
        held
    }
}

/// Turns a broken rule about a setting into the error that names it.
fn check(
    holds: bool,
    setting: &'static str,
    value: f64,
    unit: &'static str,
    hint: &'static str,
) -> Result<(), ControlError> {
    if holds {
        return Ok(());
    }
    Err(ControlError::BadSetting {
        setting,
        value,
        unit,
        hint,
    })
}

#[cfg(test)]
mod tests;
