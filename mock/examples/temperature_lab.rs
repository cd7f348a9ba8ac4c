//! Prints what the thermal network makes of a teaching device, as CSV, for a check from outside.
//!
//! `tests/external/temperature_lab.py` reads it and holds it against other people's code. One row per
//! second; the inputs of a row are those of the control period that begins there, in percent of full
//! power. A heater is `H`, its sensor `T`, both in °C.

use std::io::{self, BufWriter, Write};

use coldbed_mock::sim::plant::{Coupling, HeaterSpec, PlantError, ThermalNetwork};

const PERIOD_S: f64 = 0.1;
const PERIODS_PER_ROW: u32 = 10;
const ROWS: u32 = 1200;

/// The simulator of the Python package tclab, in units of its own: it states rates, so the heat
/// capacity is 1 and powers and conductances are those per unit of it.
///
/// # Source
/// tclab 1.0.0, `TCLabModel.update`: dH1/dt = 200 Q1/5720 + (Ta - H1)/20 - (H1 - H2)/100,
/// dH2/dt = 100 Q2/5720 + (Ta - H2)/20 + (H1 - H2)/100, dT/dt = (H - T)/140; Q in percent, Ta 21 °C.
fn simulator() -> Result<ThermalNetwork, PlantError> {
    const ROOM_CELSIUS: f64 = 21.0;
    let heater = |watts_per_percent: f64| HeaterSpec {
        heat_capacity_joules_per_kelvin: 1.0,
        loss_watts_per_kelvin: 1.0 / 20.0,
        loss_fan_watts_per_kelvin: 0.0,
        max_watts: watts_per_percent * 100.0,
        dead_time_s: 0.0,
        sensor_lag_s: 140.0,
        start_celsius: ROOM_CELSIUS,
    };
    ThermalNetwork::new(
        PERIOD_S,
        ROOM_CELSIUS,
        &[heater(200.0 / 5720.0), heater(100.0 / 5720.0)],
        &[Coupling {
            one: 0,
            other: 1,
            watts_per_kelvin: 1.0 / 100.0,
        }],
    )
}

/// The device by its published energy balance, with its radiation made linear: every conductance is
/// the chord from the room's temperature to an operating point, so that the room and that point are
/// met and what lies between is not quite.
///
/// # Source
/// BYU temperature control lab, course pages, energy balance (values from memory): m 0.004 kg,
/// Cp 500 J/kgK, A 1e-3 m², As 2e-4 m², U 10 W/m²K, emissivity 0.9, 0.01 W/%, 0.0075 W/%, Ta 23 °C.
fn energy_balance() -> Result<ThermalNetwork, PlantError> {
    const ROOM_CELSIUS: f64 = 23.0;
    const AREA_M2: f64 = 1e-3;
    const AREA_BETWEEN_M2: f64 = 2e-4;
    /// Where the balance comes to rest with heater 1 at 100 % and heater 2 off, to three places.
    const OPERATING_CELSIUS: [f64; 2] = [73.921, 32.183];
    let heater = |operating_celsius: f64, watts_per_percent: f64| HeaterSpec {
        heat_capacity_joules_per_kelvin: 0.004 * 500.0,
        loss_watts_per_kelvin: AREA_M2 * chord_watts_per_m2_kelvin(operating_celsius, ROOM_CELSIUS),
        loss_fan_watts_per_kelvin: 0.0,
        max_watts: watts_per_percent * 100.0,
        dead_time_s: 0.0,
        sensor_lag_s: 0.0,
        start_celsius: ROOM_CELSIUS,
    };
    let [one, other] = OPERATING_CELSIUS;
    ThermalNetwork::new(
        PERIOD_S,
        ROOM_CELSIUS,
        &[heater(one, 0.01), heater(other, 0.0075)],
        &[Coupling {
            one: 0,
            other: 1,
            watts_per_kelvin: AREA_BETWEEN_M2 * chord_watts_per_m2_kelvin(one, other),
        }],
    )
}

/// Gives convection and radiation together as one conductance per area.
///
/// # Source
/// h_r = e s (T + T') (T² + T'²), T in K: Incropera/DeWitt, chapter 1 (from memory).
fn chord_watts_per_m2_kelvin(one_celsius: f64, other_celsius: f64) -> f64 {
    const CONVECTION: f64 = 10.0;
    const EMISSIVITY: f64 = 0.9;
    const STEFAN_BOLTZMANN: f64 = 5.67e-8;
    let [one, other] = [one_celsius, other_celsius].map(|celsius| celsius + 273.15);
    CONVECTION + EMISSIVITY * STEFAN_BOLTZMANN * (one + other) * (one * one + other * other)
}

/// A nozzle with dead time and a bed without, neither warming the other, each a block and a sensor
/// that trails it: second order (common practice, figures of our own).
fn block_and_sensor() -> Result<ThermalNetwork, PlantError> {
    const ROOM_CELSIUS: f64 = 25.0;
    let nozzle = HeaterSpec {
        heat_capacity_joules_per_kelvin: 20.0,
        loss_watts_per_kelvin: 0.12,
        loss_fan_watts_per_kelvin: 0.0,
        max_watts: 40.0,
        dead_time_s: 4.0,
        sensor_lag_s: 3.0,
        start_celsius: ROOM_CELSIUS,
    };
    let bed = HeaterSpec {
        heat_capacity_joules_per_kelvin: 700.0,
        loss_watts_per_kelvin: 1.6,
        max_watts: 180.0,
        dead_time_s: 0.0,
        sensor_lag_s: 12.0,
        ..nozzle
    };
    ThermalNetwork::new(PERIOD_S, ROOM_CELSIUS, &[nozzle, bed], &[])
}

/// What the two heaters are asked for, in percent, at a time in s.
type Program = fn(f64) -> [f64; 2];

/// One heater at half power.
fn constant(_: f64) -> [f64; 2] {
    [50.0, 0.0]
}

/// Both heaters at once, unequally.
fn both(_: f64) -> [f64; 2] {
    [80.0, 60.0]
}

/// One heater after the other, up and down.
fn steps(at_s: f64) -> [f64; 2] {
    match at_s {
        ..100.0 => [0.0, 0.0],
        ..300.0 => [100.0, 0.0],
        ..500.0 => [100.0, 100.0],
        ..800.0 => [25.0, 100.0],
        ..1000.0 => [0.0, 40.0],
        _ => [70.0, 0.0],
    }
}

/// One heater slowly up to full power and the other down from it: inputs that the control period
/// holds still and the device would not.
fn ramp(at_s: f64) -> [f64; 2] {
    let percent = at_s / 12.0;
    [percent, 100.0 - percent]
}

/// One heater at full power.
fn full(_: f64) -> [f64; 2] {
    [100.0, 0.0]
}

/// Both at full power for a while, then off.
fn pulse(at_s: f64) -> [f64; 2] {
    let percent = if at_s < 200.0 { 100.0 } else { 0.0 };
    [percent, percent]
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = BufWriter::new(io::stdout().lock());
    writeln!(out, "program,t,Q1,Q2,H1,H2,T1,T2")?;
    print(&mut out, "constant", simulator()?, constant)?;
    print(&mut out, "both", simulator()?, both)?;
    print(&mut out, "steps", simulator()?, steps)?;
    print(&mut out, "ramp", simulator()?, ramp)?;
    print(&mut out, "energy-balance", energy_balance()?, full)?;
    print(&mut out, "block-and-sensor", block_and_sensor()?, pulse)?;
    out.flush()?;
    Ok(())
}

/// Writes 20 minutes of one program.
fn print(
    out: &mut impl Write,
    name: &str,
    mut network: ThermalNetwork,
    program: Program,
) -> io::Result<()> {
    for period in 0..=ROWS * PERIODS_PER_ROW {
        // Divided, not multiplied: 3 * 0.1 is not 0.3 in binary, 3 / 10 is the nearest there is.
        let at_s = f64::from(period) / 10.0;
        let [q1, q2] = program(at_s);
        if period % PERIODS_PER_ROW == 0 {
            let [h1, h2] = [0, 1].map(|heater| network.block_celsius(heater));
            let [t1, t2] = [0, 1].map(|heater| network.sensor_celsius(heater));
            writeln!(
                out,
                "{name},{at_s},{q1},{q2},{h1:.9},{h2:.9},{t1:.9},{t2:.9}"
            )?;
        }
        network.step(&[q1 / 100.0, q2 / 100.0]);
    }
    Ok(())
}
