use std::time::Duration;

use super::*;

mod properties;
mod starting;
mod troubles;
mod updates;

fn printer(name: &str, seed: u64) -> Simulation {
    let scenario = Scenario::builtin(name).unwrap().unwrap();
    Simulation::new(Arc::new(scenario), seed)
}

fn at(seconds: f64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs_f64(seconds))
}

#[test]
fn heat_up_takes_what_the_first_order_formula_says() {
    // Source: Incropera/DeWitt, lumped capacitance (chapter 5): t = tau ln((T_ss - T1)/(T_ss - T2)),
    // plus the dead time. Extruder: tau 20/0.12 = 166.67 s, T_ss 22 + 40/0.12 = 355.33 C, 22 to
    // 180 C: 107.23 s, plus 4 s, from the start of the job at 30 s. The controller still gives full
    // power at 180 C, 30 K below the target. One control period is lost to the grid, and the noise
    // of 0.1 K is 0.06 s of the slope there.
    let mut printer = printer("heat-up", 7);
    let reached = (300..3000)
        .map(|tick| Tick(tick).start())
        .find(|moment| printer.truth_at(*moment).heaters["extruder"].true_celsius >= 180.0)
        .expect("it gets that hot");
    let expected_s = 30.0 + 4.0 + 166.667 * (333.333_f64 / (333.333 - 158.0)).ln();
    let late_s = reached.as_seconds() - expected_s;
    assert!((-0.1..=0.3).contains(&late_s), "{late_s} s late");
}

#[test]
fn a_finished_printer_cools_down_as_the_formula_says() {
    // Source: as above, with P = 0. The cool-down of the extruder from 210 to 50 C in a room of
    // 22 C: 166.67 ln(188/28) = 317.3 s.
    let mut printer = printer("finished", 1);
    let mut seconds = 1136.0;
    let mut time_at = |celsius: f64| {
        while printer.truth_at(at(seconds)).heaters["extruder"].true_celsius > celsius {
            seconds += 0.1;
        }
        seconds
    };
    let (from, until) = (time_at(209.0), time_at(50.0));
    let expected_s = 166.667 * (187.0_f64 / 28.0).ln();
    assert!(
        (until - from - expected_s).abs() < 0.5,
        "{} s",
        until - from
    );
}

#[test]
fn a_broken_element_trips_the_protection_and_stays_tripped_until_it_is_reset() {
    let mut printer = printer("error", 1);
    let tripped = printer.truth_at(at(600.0));
    assert_eq!(tripped.phase, Phase::Error);
    assert_eq!(tripped.printer.state, PrinterState::Stopped);
    assert!(
        tripped
            .printer
            .reasons
            .contains(&"extruder-failure".to_owned())
    );
    assert_eq!(
        tripped.job.as_ref().map(|job| job.state),
        Some(JobState::Aborted)
    );
    assert!(!tripped.heaters["extruder"].on);
    let refused = printer.command(
        at(700.0),
        Command::SetTarget {
            heater: "extruder".to_owned(),
            celsius: 100.0,
        },
    );
    assert!(
        matches!(refused, Err(Refused::WrongPhase { .. })),
        "{refused:?}"
    );
    assert_eq!(printer.truth_at(at(1801.0)).phase, Phase::Idle);
}

#[test]
fn a_hot_part_is_reported_as_cooling_only_while_it_is_off_and_too_hot_to_touch() {
    let mut printer = printer("finished", 1);
    let reasons = |truth: &Truth| truth.printer.reasons.join(" ");
    assert_eq!(reasons(&printer.truth_at(at(1000.0))), "");
    let hot = printer.truth_at(at(1200.0));
    assert_eq!(
        reasons(&hot),
        "extruder-cooling-report platform-cooling-report"
    );
    assert_eq!(reasons(&printer.truth_at(at(1700.0))), "");
}

#[test]
fn time_standing_still_is_neither_progress_nor_elapsed_time() {
    let mut printer = printer("paused", 1);
    let before = printer.truth_at(at(2401.0)).job.unwrap();
    let after = printer.truth_at(at(3800.0)).job.unwrap();
    assert_eq!(before.state, JobState::ProcessingStopped);
    assert_eq!(before, after);
}

#[test]
fn what_is_left_is_unknown_while_heating_and_falls_to_nothing_at_the_finish() {
    let mut printer = printer("finished", 1);
    assert_eq!(
        printer.truth_at(at(100.0)).job.unwrap().remaining_seconds,
        None
    );
    let printing = printer.truth_at(at(600.0)).job.unwrap();
    let done_s = printing.progress_percent / 100.0 * 900.0;
    assert!((printing.remaining_seconds.unwrap() + done_s - 900.0).abs() < 1e-6);
    assert_eq!(
        printer.truth_at(at(1200.0)).job.unwrap().remaining_seconds,
        Some(0.0)
    );
}

#[test]
fn a_command_that_does_not_fit_is_refused_and_changes_nothing() {
    let mut printer = printer("heat-up", 1);
    let before = printer.truth_at(at(10.0));
    for command in [Command::PauseJob, Command::ResumeJob, Command::CancelJob] {
        let refused = printer.command(at(10.0), command);
        assert!(
            matches!(refused, Err(Refused::WrongPhase { .. })),
            "{refused:?}"
        );
    }
    assert_eq!(printer.truth_at(at(10.0)), before);
    assert_eq!(printer.revision(), 0);
}

#[test]
fn another_seed_gives_other_noise_and_the_same_phases() {
    let (mut one, mut other) = (printer("printing", 1), printer("printing", 2));
    let (one, other) = (one.truth_at(at(7200.0)), other.truth_at(at(7200.0)));
    assert_ne!(one.heaters, other.heaters);
    assert_eq!(one.phase, other.phase);
}

/// Gives a printer that heats up as in the built-in scenario, with other jobs and events.
fn with(jobs_and_events: &str) -> Simulation {
    let text =
        format!("title = \"a test\"\ninclude = \"heat-up\"\nlength = \"2h\"\n{jobs_and_events}");
    let scenario = Scenario::parse("test.toml", &text).unwrap();
    Simulation::new(Arc::new(scenario), 1)
}

const TEN_MINUTES: &str = "
[[job]]
name = \"one\"
at = \"0s\"
duration = \"10m\"
layers = 50
targets-celsius = { extruder = 210 }
";

fn first_moment(printer: &mut Simulation, wanted: impl Fn(&Truth) -> bool) -> Truth {
    (0..72_000)
        .map(|tick| printer.truth_at(Tick(tick).start()))
        .find(wanted)
        .expect("it comes to that")
}

#[test]
fn an_event_waits_for_progress_for_a_layer_and_for_a_temperature() {
    let event = |trigger: &str| {
        format!("{TEN_MINUTES}\n[[event]]\n{trigger}\naction = \"material-empty\"\n")
    };
    let is_paused = |truth: &Truth| truth.phase == Phase::Paused;
    let at_progress = first_moment(&mut with(&event("at-progress-percent = 40")), is_paused);
    let percent = at_progress.job.unwrap().progress_percent;
    // One control period of 600 s is 0.017 %.
    assert!((40.0..40.02).contains(&percent), "{percent}");
    let at_layer = first_moment(&mut with(&event("at-layer = 26")), is_paused)
        .job
        .unwrap();
    assert_eq!(at_layer.layer, 26);
    assert!(
        (at_layer.progress_percent - 50.0).abs() < 0.02,
        "{}",
        at_layer.progress_percent
    );
    let trigger = "when = { heater = \"extruder\", above-celsius = 150 }";
    let at_heat = first_moment(&mut with(&event(trigger)), is_paused);
    assert!((150.0..150.5).contains(&at_heat.heaters["extruder"].true_celsius));
}

#[test]
fn an_event_may_come_later_than_what_it_waits_for_and_again() {
    let mut delayed = with(&format!(
        "{TEN_MINUTES}\n[[event]]\nat-layer = 2\ndelay = \"30s\"\naction = \"pause\"\n"
    ));
    let second = first_moment(&mut delayed, |truth| {
        truth.job.as_ref().is_some_and(|job| job.layer == 2)
    });
    let paused = first_moment(&mut delayed.clone(), |truth| truth.phase == Phase::Paused);
    let span_s = paused.at.as_seconds() - second.at.as_seconds();
    assert!((span_s - 30.0).abs() < 1e-6, "{span_s}");

    let mut repeated = with(
        "job = []\n[[event]]\nat = \"1m\"\naction = \"clock-set-back\"\nby = \"1h\"\nrepeat = { every = \"10m\", times = 3, jitter = \"1m\" }\n",
    );
    let behind_s = |printer: &mut Simulation, s: f64| {
        let truth = printer.truth_at(at(s));
        let start = printer.scenario().clock_at_start_unix_s;
        start + truth.at.as_seconds() - truth.printer.clock_unix_seconds
    };
    assert!(behind_s(&mut repeated, 59.0).abs() < 1e-3);
    assert!((behind_s(&mut repeated, 61.0) - 3600.0).abs() < 1e-3);
    assert!((behind_s(&mut repeated, 7000.0) - 3.0 * 3600.0).abs() < 1e-3);
}

#[test]
fn a_cancelled_job_goes_on_to_its_stop_point_first() {
    let mut printer = with(
        "[[job]]\nname = \"one\"\nat = \"0s\"\nduration = \"10m\"\nstop-point-delay = \"8s\"\ntargets-celsius = { extruder = 210 }\n",
    );
    printer.truth_at(at(400.0));
    printer.command(at(400.0), Command::CancelJob).unwrap();
    let stopping = printer.truth_at(at(404.0));
    let job = stopping.job.clone().unwrap();
    assert_eq!(
        (stopping.phase, job.state),
        (Phase::Printing, JobState::Processing)
    );
    assert_eq!(job.reasons, ["processing-to-stop-point"]);
    let stopped = printer.truth_at(at(408.2));
    let job = stopped.job.clone().unwrap();
    assert_eq!(
        (stopped.phase, job.state),
        (Phase::Cancelled, JobState::Canceled)
    );
    assert_eq!(job.reasons, ["job-canceled-by-user"]);
    assert!(!stopped.heaters["extruder"].on);
}

#[test]
fn the_next_job_may_start_right_after_the_end_of_the_one_before() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}\n[[job]]\nname = \"two\"\nafter-previous = \"20s\"\nduration = \"5m\"\ntargets-celsius = {{ extruder = 210 }}\n"
    ));
    let finished = first_moment(&mut printer.clone(), |truth| truth.phase == Phase::Finished);
    let next = first_moment(&mut printer, |truth| {
        truth.job.as_ref().is_some_and(|job| job.id == 2)
    });
    let span_s = next.at.as_seconds() - finished.at.as_seconds();
    assert!((span_s - 20.0).abs() < 1e-6, "{span_s}");
    let job = next.job.unwrap();
    assert_eq!(
        (job.name.as_str(), job.state),
        ("two", JobState::Processing)
    );
    assert!(job.progress_percent.abs() < f64::EPSILON);
}

#[test]
fn an_open_door_stops_the_job_and_it_cannot_go_on_before_the_door_is_closed() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}\n[[event]]\nat = \"5m\"\naction = \"door-opens\"\n[[event]]\nat = \"6m\"\naction = \"door-closes\"\n"
    ));
    let open = printer.truth_at(at(310.0));
    assert_eq!(
        (open.phase, open.printer.state),
        (Phase::Paused, PrinterState::Stopped)
    );
    assert_eq!(open.printer.reasons, ["door-open"]);
    assert!(printer.command(at(320.0), Command::ResumeJob).is_err());
    printer.truth_at(at(361.0));
    printer.command(at(362.0), Command::ResumeJob).unwrap();
    assert_eq!(printer.truth_at(at(363.0)).phase, Phase::Printing);
}

#[test]
fn a_power_dip_loses_the_job_and_a_restart_of_the_host_does_not() {
    let event = |action: &str| {
        format!("{TEN_MINUTES}\n[[event]]\nat = \"5m\"\naction = \"{action}\"\nlasts = \"20s\"\n")
    };
    let mut dip = with(&event("power-dip"));
    assert!(!dip.truth_at(at(310.0)).printer.host_answers);
    let after = dip.truth_at(at(330.0));
    assert!(after.printer.host_answers && after.job.is_none());
    assert_eq!(after.printer.up_time_seconds, 10);
    assert!(!after.heaters["extruder"].on && !after.safe_to_touch);
    let mut restart = with(&event("host-restart"));
    let before = restart.truth_at(at(299.0)).job.unwrap().elapsed_seconds;
    let after = restart.truth_at(at(330.0));
    assert_eq!(after.printer.up_time_seconds, 10);
    assert!((after.job.unwrap().elapsed_seconds - before - 31.0).abs() < 1e-6);
}

#[test]
fn a_sensor_that_opens_in_the_middle_of_a_print_trips_the_protection() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}\n[[event]]\nat = \"6m\"\naction = \"sensor-fails\"\nheater = \"extruder\"\nkind = \"open\"\n"
    ));
    let printing = printer.truth_at(at(359.0));
    assert_eq!(printing.phase, Phase::Printing);
    // The protection looks once a second.
    let tripped = printer.truth_at(at(362.1));
    assert_eq!(tripped.phase, Phase::Error);
    let hot = &tripped.heaters["extruder"];
    assert!(hot.true_celsius > 150.0 && !hot.safe_to_touch && !hot.on);
}

#[test]
fn a_host_that_reads_every_two_seconds_shows_the_last_reading_in_between() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}\n[heaters.extruder.sensor]\nreading-every = \"2s\"\n"
    ));
    let mut shown = |seconds| printer.truth_at(at(seconds)).heaters["extruder"].actual_celsius;
    let first = shown(60.0);
    assert_eq!(shown(61.0), first);
    assert_eq!(shown(61.9), first);
    // It heats by more than 1 K/s here.
    assert!(shown(62.0) > first.map(|celsius| celsius + 1.0));
}

#[test]
fn a_frozen_sensor_shows_the_old_number_while_the_part_goes_its_own_way() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}\n[[event]]\nat = \"1m\"\naction = \"sensor-fails\"\nheater = \"extruder\"\nkind = \"frozen\"\n"
    ));
    let frozen = printer.truth_at(at(70.0)).heaters["extruder"].clone();
    let shown = frozen.actual_celsius.unwrap();
    assert!(
        frozen.true_celsius > shown + 8.0,
        "{} and {shown}",
        frozen.true_celsius
    );
}

#[test]
fn a_program_heats_waits_pauses_and_counts_its_layers() {
    let mut printer = with(
        "[[job]]\nname = \"box\"\nat = \"0s\"\nprogress = { by = \"file\" }\nestimate = { by = \"file\", unknown-for = \"1m\" }\ntargets-celsius = { platform = 60, extruder = 205 }\n[job.print]\nshape = \"hollow-box\"\nsize-millimetres = 30\nheight-millimetres = 2.4\npause-before-layers = [5]\n",
    );
    let heating = printer.truth_at(at(20.0));
    assert_eq!(heating.phase, Phase::Heating);
    assert!(heating.heaters["extruder"].on && heating.heaters["platform"].on);
    let paused = first_moment(&mut printer, |truth| truth.phase == Phase::Paused);
    assert_eq!(paused.job.as_ref().unwrap().layer, 4);
    assert_eq!(paused.printer.reasons, ["paused"]);
    let resumed_at = paused.at + Duration::from_secs(60);
    printer.truth_at(resumed_at);
    printer.command(resumed_at, Command::ResumeJob).unwrap();
    let finished = first_moment(&mut printer, |truth| truth.phase == Phase::Finished);
    let job = finished.job.unwrap();
    assert_eq!(job.layer, 12);
    assert!(job.filament_mm.unwrap() > 10.0);
    assert!((job.progress_percent - 100.0).abs() < f64::EPSILON);
}

#[test]
fn a_broken_line_aborts_the_job_when_the_host_comes_to_it() {
    struct Beside;
    impl crate::scenario::Files for Beside {
        fn open(&self, _: &str) -> std::io::Result<Box<dyn std::io::BufRead>> {
            let text = "G21\nG90\nM83\nG1 Z0.2 F600\nG1 X100 E3 F600\nG1 X^\nG1 X0 E3\nM2\n";
            Ok(Box::new(text.as_bytes()))
        }
    }
    let text = "title = \"a test\"\ninclude = \"desk-printer\"\nlength = \"1h\"\n[[job]]\nname = \"torn\"\nat = \"0s\"\nprogram = \"torn.gcode\"\non-broken-line = \"abort\"\n";
    let scenario = Scenario::load("test.toml", text, &Beside).unwrap();
    let mut printer = Simulation::new(Arc::new(scenario), 1);
    // The move of 100 mm at 10 mm/s takes 10 s and a little for its ramps.
    assert_eq!(printer.truth_at(at(9.0)).phase, Phase::Printing);
    let aborted = printer.truth_at(at(15.0));
    let job = aborted.job.clone().unwrap();
    assert_eq!(
        (aborted.phase, job.state),
        (Phase::Error, JobState::Aborted)
    );
    assert_eq!(job.reasons, ["document-format-error"]);
    assert!(job.remaining_seconds.is_none());
}

#[test]
fn flowing_filament_and_the_part_fan_take_heat_from_the_extruder() {
    // Source: energy balance (Incropera/DeWitt, chapter 5 and section 1.3): in the steady state the
    // power is loss times the rise plus flow times density times specific heat times the rise. The
    // built-in printer loses 0.12 W/K; fan and filament come on top.
    let mut printer = with(
        "[[job]]\nname = \"box\"\nat = \"0s\"\ntargets-celsius = { platform = 60, extruder = 205 }\n[job.print]\nshape = \"hollow-box\"\nsize-millimetres = 80\nheight-millimetres = 8\n",
    );
    let printing = first_moment(&mut printer, |truth| {
        truth.job.as_ref().is_some_and(|job| job.layer == 30)
    });
    let extruder = &printing.heaters["extruder"];
    let still_watts = 0.12 * (extruder.true_celsius - 22.0);
    assert!(
        extruder.power_watts > still_watts + 0.5,
        "{} W",
        extruder.power_watts
    );
}
