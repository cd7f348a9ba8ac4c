use std::time::Duration;

use proptest::prelude::*;

use super::*;

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

fn any_command() -> impl Strategy<Value = Command> {
    prop_oneof![
        Just(Command::PauseJob),
        Just(Command::ResumeJob),
        Just(Command::CancelJob),
        (
            prop_oneof![Just("extruder"), Just("platform"), Just("chamber")],
            -10.0..400.0
        )
            .prop_map(|(heater, celsius)| Command::SetTarget {
                heater: heater.to_owned(),
                celsius,
            }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn truth_does_not_depend_on_who_asked_before_or_how_often(
        index in 0..crate::scenario::BUILTIN.len(),
        seed in any::<u64>(),
        end_s in 0.0..4000.0_f64,
        asked in prop::collection::vec(0.0..1.0_f64, 0..40),
        commands in prop::collection::vec((0.0..1.0_f64, any_command()), 0..6),
    ) {
        let name = crate::scenario::BUILTIN[index].0;
        let (mut asked_often, mut asked_once) = (printer(name, seed), printer(name, seed));
        let mut moments: Vec<(f64, Option<Command>)> = asked.into_iter().map(|at| (at, None)).collect();
        moments.extend(commands.into_iter().map(|(at, command)| (at, Some(command))));
        moments.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (share, command) in moments {
            let moment = at(share * end_s);
            match command {
                None => drop(asked_often.truth_at(moment)),
                Some(command) => {
                    let one = asked_often.command(moment, command.clone());
                    prop_assert_eq!(one, asked_once.command(moment, command));
                }
            }
        }
        prop_assert_eq!(asked_often.truth_at(at(end_s)), asked_once.truth_at(at(end_s)));
    }

    #[test]
    fn every_state_that_commands_can_reach_is_consistent(
        index in 0..crate::scenario::BUILTIN.len(),
        commands in prop::collection::vec((1.0..900.0_f64, any_command()), 0..30),
    ) {
        let mut printer = printer(crate::scenario::BUILTIN[index].0, 1);
        let mut seconds = 0.0;
        for (wait_s, command) in commands {
            seconds += wait_s;
            let before = printer.truth_at(at(seconds));
            let was_terminal = before.job.as_ref().is_some_and(|job| job.state.is_terminal());
            let result = printer.command(at(seconds), command);
            let after = printer.truth_at(at(seconds));
            prop_assert!(result.is_ok() || before == after);
            // RFC 8011 section 5.3.7: a terminal state is final.
            if was_terminal && let (Some(was), Some(is)) = (&before.job, &after.job) {
                prop_assert_eq!(was.state, is.state);
            }
            let job = after.job.as_ref();
            if let Some(job) = job {
                prop_assert!((0.0..=100.0).contains(&job.progress_percent));
            }
            let stopped = after.printer.state == PrinterState::Stopped;
            let held = job.is_some_and(|job| job.state == JobState::ProcessingStopped);
            prop_assert_eq!(stopped, held || after.phase == Phase::Error);
            for heater in after.heaters.values() {
                prop_assert_eq!(heater.on, heater.target_celsius > 0.0);
                prop_assert!(after.phase != Phase::Error || !heater.on);
            }
        }
    }
}
