//! What holds whatever is asked of a printer, and when.

use proptest::prelude::*;

use super::*;

fn any_command() -> impl Strategy<Value = Command> {
    prop_oneof![
        Just(Command::PauseJob),
        Just(Command::ResumeJob),
        Just(Command::CancelJob),
        prop_oneof![
            Just(None),
            // One of the built-in `two-jobs`, and one of nobody.
            Just(Some("left-bracket".to_owned())),
            Just(Some("bent-spoon".to_owned())),
        ]
        .prop_map(|job| Command::StartJob { job }),
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

/// Gives what a client is answered with at that truth, byte for byte.
fn body(truth: &Truth) -> Vec<u8> {
    use http::{HeaderMap, Method};

    use crate::dialect::{Access, Dialect, Request, Routed};
    static PLAIN: std::sync::LazyLock<std::sync::Arc<Dialect>> =
        std::sync::LazyLock::new(|| Dialect::builtin("plain").expect("it is sound"));
    let request = Request {
        method: &Method::GET,
        path: "/printer",
        query: None,
        headers: &HeaderMap::new(),
        body: b"",
    };
    match PLAIN.route(&request, &Access::OPEN) {
        Routed::Body(matched) => PLAIN.render_answer(&matched, truth).body.to_vec(),
        other => panic!("{other:?}"),
    }
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
        let (one, other) = (asked_often.truth_at(at(end_s)), asked_once.truth_at(at(end_s)));
        prop_assert_eq!(body(&one), body(&other));
        prop_assert_eq!(one, other);
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
            if let (Some(was), Some(is)) = (&before.job, &after.job) {
                // A job that was passed over has had an id too, so one may be left out.
                prop_assert!(was.id == is.id || was_terminal && was.id < is.id);
                prop_assert!(!was_terminal || was.id != is.id || was.state == is.state);
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
