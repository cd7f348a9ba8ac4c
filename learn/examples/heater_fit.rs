//! Prints readings of a made-up heater at full power, and what is fitted to them, for a check from outside.
//!
//! `tests/external/heater_fit.py` reads it and fits the same curve with other people's code. First the readings,
//! time s and °C, then after an empty line name, value and standard error of each parameter.

use std::io::{self, BufWriter, Write};

use coldbed_learn::thermal::fit_inputs;

const ROOM_CELSIUS: f64 = 22.0;
const RISE_KELVIN: f64 = 333.3;
const TAU_S: f64 = 166.7;
const DEAD_S: f64 = 4.3;

fn main() -> io::Result<()> {
    let mut chance = fastrand::Rng::with_seed(11);
    let readings: Vec<(f64, f64, f64)> = (0..500_u32)
        .map(|second| {
            let at = f64::from(second);
            let passed = (at - DEAD_S).max(0.0);
            let exact = ROOM_CELSIUS + RISE_KELVIN * (1.0 - (-passed / TAU_S).exp());
            // The sum of twelve even numbers is nearly normal, with a variance of one.
            let noise = (0..12).map(|_| chance.f64()).sum::<f64>() - 6.0;
            (at, exact + 0.2 * noise, 1.0)
        })
        .collect();
    let fit = fit_inputs(&readings);
    let mut out = BufWriter::new(io::stdout().lock());
    for (at, celsius, _) in &readings {
        writeln!(out, "{at},{celsius}")?;
    }
    writeln!(out)?;
    for (name, known) in [
        ("rise", &fit.full_power_rise_kelvin),
        ("tau", &fit.time_constant_s),
        ("dead", &fit.dead_time_s),
        ("room", &fit.room_celsius),
    ] {
        if let Some(estimate) = known.estimate() {
            writeln!(out, "{name},{},{}", estimate.value, estimate.standard_error)?;
        }
    }
    out.flush()
}
