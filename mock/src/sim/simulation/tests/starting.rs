//! Jobs that somebody starts over the wire.

use super::*;

const THREE: &str = "
[[job]]
name = \"one\"
at = \"10m\"
duration = \"1m\"
targets-celsius = { extruder = 60 }
[[job]]
name = \"two\"
at = \"30m\"
duration = \"1m\"
[[job]]
name = \"three\"
after-previous = \"5m\"
duration = \"1m\"
";

fn start(name: Option<&str>) -> Command {
    Command::StartJob {
        job: name.map(str::to_owned),
    }
}

/// Gives every job that starts up to a second: its moment in whole seconds, its id and its name.
fn starts(printer: &mut Simulation, until_s: u32) -> Vec<(u32, u32, String)> {
    let from_s = printer.truth_at(VirtualTime::ZERO).at.as_seconds();
    let mut starts: Vec<(u32, u32, String)> = Vec::new();
    for second in 0..until_s {
        if f64::from(second) < from_s {
            continue;
        }
        let Some(job) = printer.truth_at(at(f64::from(second))).job else {
            continue;
        };
        if starts.last().is_none_or(|(_, id, _)| *id != job.id) {
            starts.push((second, job.id, job.name));
        }
    }
    starts
}

fn shown(starts: &[(u32, u32, String)]) -> Vec<(u32, &str)> {
    starts
        .iter()
        .map(|(_, id, name)| (*id, name.as_str()))
        .collect()
}

#[test]
fn the_next_job_that_waits_starts_at_once_and_not_again_at_its_own_time() {
    let mut printer = with(THREE);
    printer.command(at(60.0), start(None)).unwrap();
    let truth = printer.truth_at(at(60.0));
    let job = truth.job.clone().unwrap();
    assert_eq!((job.id, job.name.as_str()), (1, "one"));
    assert_eq!(truth.phase, Phase::Heating);
    assert!((truth.heaters["extruder"].target_celsius - 60.0).abs() < f64::EPSILON);
    let all = starts(&mut printer, 3600);
    assert_eq!(shown(&all), [(1, "one"), (2, "two"), (3, "three")]);
    assert_eq!(all[1].0, 1800, "the others keep their time");
}

#[test]
fn when_no_job_waits_the_last_one_starts_again_under_another_id() {
    let mut printer = with(THREE);
    printer.truth_at(at(3000.0));
    printer.command(at(3000.0), start(None)).unwrap();
    printer.truth_at(at(3100.0));
    printer.command(at(3100.0), start(None)).unwrap();
    let job = printer.truth_at(at(3101.0)).job.unwrap();
    assert_eq!((job.id, job.name.as_str()), (5, "three"));
    assert!((job.elapsed_seconds - 1.0).abs() < 1e-9);
    // After one that ran again by name, the last one is that one.
    printer.command(at(3200.0), start(Some("one"))).unwrap();
    printer.command(at(3400.0), start(None)).unwrap();
    let job = printer.truth_at(at(3400.0)).job.unwrap();
    assert_eq!((job.id, job.name.as_str()), (7, "one"));
}

#[test]
fn a_job_started_by_name_leaves_the_others_waiting() {
    let mut printer = with(THREE);
    printer.command(at(60.0), start(Some("three"))).unwrap();
    let all = starts(&mut printer, 3600);
    assert_eq!(shown(&all), [(1, "three"), (2, "one"), (3, "two")]);
    assert_eq!([all[1].0, all[2].0], [600, 1800]);
}

#[test]
fn of_two_jobs_of_one_name_the_one_that_waits_is_started() {
    let mut printer = with(
        "[[job]]\nname = \"same\"\nat = \"1m\"\nduration = \"1m\"\n[[job]]\nname = \"same\"\nat = \"1h\"\nduration = \"10m\"\n",
    );
    printer.truth_at(at(200.0));
    printer.command(at(200.0), start(Some("same"))).unwrap();
    let job = printer.truth_at(at(300.0)).job.unwrap();
    assert_eq!((job.id, job.state), (2, JobState::Processing));
    assert!((job.true_remaining_seconds.unwrap() - 500.0).abs() < 0.2);
    assert_eq!(printer.truth_at(at(3700.0)).job.unwrap().id, 2);
}

#[test]
fn a_job_is_not_started_while_another_runs_pauses_or_stops() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}stop-point-delay = \"8s\"\n[[job]]\nname = \"two\"\nafter-previous = \"1h\"\nduration = \"1m\"\n"
    ));
    let refused = |printer: &mut Simulation, seconds: f64, phase| {
        let before = printer.truth_at(at(seconds));
        let wanted = "start a job";
        assert_eq!(
            printer.command(at(seconds), start(Some("two"))),
            Err(Refused::WrongPhase { wanted, phase })
        );
        assert_eq!(printer.truth_at(at(seconds)), before);
    };
    refused(&mut printer, 5.0, Phase::Heating);
    refused(&mut printer, 300.0, Phase::Printing);
    printer.command(at(310.0), Command::PauseJob).unwrap();
    refused(&mut printer, 311.0, Phase::Paused);
    printer.command(at(312.0), Command::ResumeJob).unwrap();
    printer.command(at(313.0), Command::CancelJob).unwrap();
    refused(&mut printer, 314.0, Phase::Printing);
    printer.command(at(330.0), start(None)).unwrap();
    assert_eq!(printer.truth_at(at(330.0)).job.unwrap().name, "two");
}

#[test]
fn a_job_is_not_started_in_error_or_with_the_door_open() {
    let mut tripped = printer("error", 1);
    tripped.truth_at(at(600.0));
    let refused = tripped.command(at(600.0), start(None));
    let Err(refused) = refused else {
        panic!("it was started")
    };
    assert_eq!(refused.to_string(), "cannot start a job while error");

    let mut open = with(
        "[[job]]\nname = \"one\"\nat = \"1h\"\nduration = \"1m\"\n[[event]]\nat = \"1m\"\naction = \"door-opens\"\n[[event]]\nat = \"2m\"\naction = \"door-closes\"\n",
    );
    let refused = open.command(at(90.0), start(None)).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "cannot start a job with the door open while idle"
    );
    open.command(at(120.0), start(None)).unwrap();
}

#[test]
fn what_is_not_there_cannot_be_started() {
    let mut printer = with(THREE);
    let refused = printer.command(at(1.0), start(Some("four"))).unwrap_err();
    assert_eq!(refused.to_string(), "no job is called `four`");
    let mut bare = with("job = []\n");
    let refused = bare.command(at(1.0), start(None)).unwrap_err();
    assert_eq!(refused.to_string(), "there is no job to start");
    assert_eq!(bare.revision(), 0);
}

#[test]
fn a_job_that_was_passed_over_can_be_started_by_hand_later() {
    let mut printer = with(
        "[[job]]\nname = \"one\"\nat = \"1m\"\nduration = \"1m\"\n[[event]]\nat = \"30s\"\naction = \"door-opens\"\n[[event]]\nat = \"2m\"\naction = \"door-closes\"\n",
    );
    assert!(printer.truth_at(at(130.0)).job.is_none());
    printer.command(at(130.0), start(None)).unwrap();
    let job = printer.truth_at(at(130.0)).job.unwrap();
    assert_eq!((job.id, job.name.as_str()), (2, "one"));
}
