//! The printer behind a session, as a file that scenarios include.

use crate::thermal::{Control, HeaterFit, Known};

/// Is how much power heaters are taken to have, W: from temperatures alone only ratios follow, so that one of
/// power, capacity and loss has to be said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NominalWatts {
    /// The extruder's (common practice: 30 to 60 W).
    pub extruder: f64,
    /// The platform's (common practice: 100 to 400 W).
    pub platform: f64,
}

impl Default for NominalWatts {
    fn default() -> Self {
        Self {
            extruder: 40.0,
            platform: 180.0,
        }
    }
}

/// Writes the heaters, each with what is known of it and what is not.
pub fn printer<'a>(
    fits: impl IntoIterator<Item = (&'a str, &'a HeaterFit)>,
    watts: NominalWatts,
) -> String {
    let mut text = String::from(
        "# Fitted by `coldbed learn` to recorded temperatures: first order with a dead time, by least squares. The\n\
         # power is assumed, and capacity and loss with it: temperatures alone give ratios only. It is a model for\n\
         # tests. It says nothing about whether a real printer is safe to leave alone.\n",
    );
    for (name, fit) in fits {
        let power = if name == "platform" {
            watts.platform
        } else {
            watts.extruder
        };
        text.push_str(&heater(name, fit, power));
    }
    text
}

fn heater(name: &str, fit: &HeaterFit, watts: f64) -> String {
    let mut text = format!("\n[heaters.{name}]\nkind = \"{name}\"\n");
    let all = [
        ("rise at full power", &fit.full_power_rise_kelvin, "K"),
        ("time constant", &fit.time_constant_s, "s"),
        ("dead time", &fit.dead_time_s, "s"),
        ("room", &fit.room_celsius, "°C"),
    ];
    for (what, known, unit) in all {
        text.push_str(&match known {
            Known::Known(estimate) => {
                let (low, high) = estimate.interval_95();
                format!(
                    "# {what} {:.1} {unit}, 95 % interval {low:.1} to {high:.1}\n",
                    estimate.value
                )
            }
            Known::Unknown(why) => format!("# ? {what}: {why}\n"),
        });
    }
    let value = |known: &Known| known.estimate().map(|estimate| estimate.value);
    let tau = value(&fit.time_constant_s).unwrap_or(if name == "platform" { 437.5 } else { 166.7 });
    let rise = value(&fit.full_power_rise_kelvin).unwrap_or(if name == "platform" {
        112.5
    } else {
        333.0
    });
    let dead = value(&fit.dead_time_s).unwrap_or(4.0).max(0.1);
    let loss = watts / rise.max(1.0);
    text.push_str(&format!(
        "heat-capacity-joules-per-kelvin = {:.2}\nloss-watts-per-kelvin = {loss:.4}\npower-watts = {watts}\n\
         dead-time = \"{:.0}ms\"\nmax-celsius = {}\nnoise-celsius = {:.2}\n",
        tau * loss,
        1000.0 * dead,
        if name == "platform" { 120 } else { 290 },
        // What the fit leaves is noise and rounding, and what the model lacks.
        fit.residual_kelvin.clamp(0.02, 0.5),
    ));
    text.push_str(&control(fit, rise, tau, dead, watts));
    text
}

/// Writes how it is controlled: SIMC's rule for a proportional one (Skogestad 2003), the band of an on-off one.
fn control(fit: &HeaterFit, rise: f64, tau: f64, dead: f64, watts: f64) -> String {
    let proportional = |mark: &str| {
        let gain = rise / watts;
        let watts_per_kelvin = tau / (gain * 2.0 * dead);
        let integral = tau.min(8.0 * dead);
        format!(
            "{mark}control = {{ method = \"pid\", gain-watts-per-kelvin = {watts_per_kelvin:.3}, \
             integral-time = \"{integral:.0}s\" }}\n"
        )
    };
    match fit.control {
        Control::Proportional => {
            proportional("# It keeps its target; gains by SIMC's rule, not by measuring.\n")
        }
        Control::Unknown => proportional("# ? How it is controlled is not in the session.\n"),
        Control::OnOff {
            low_celsius,
            high_celsius,
        } => {
            let room = fit.room_celsius.estimate().map_or(22.0, |room| room.value);
            let back = (dead / tau).exp();
            let low = room + (low_celsius - room) * back;
            let top = room + rise;
            let high = top - (top - high_celsius) * back;
            let hysteresis = ((high - low) / 2.0).max(0.1);
            format!(
                "# It swings from {low_celsius:.1} to {high_celsius:.1} °C; less what the dead time adds.\n\
                 control = {{ method = \"on-off\", hysteresis-celsius = {hysteresis:.2} }}\n"
            )
        }
    }
}
