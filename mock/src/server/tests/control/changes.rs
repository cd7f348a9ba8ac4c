//! Changes of a running printer, and what the log says of them.

use super::super::common::Bench;
use super::{ask, bench, control, with};
use crate::control::{Change, LoggedRun};
use crate::sim::{Command, Phase};

fn changes(bench: &Bench) -> Vec<(f64, Change)> {
    let log = control(bench).log();
    let run = LoggedRun::read(log.as_bytes()).unwrap();
    let entries = run.entries.into_iter();
    entries
        .map(|entry| (entry.at.as_seconds(), entry.change))
        .collect()
}

#[tokio::test]
async fn a_command_over_the_wire_is_logged_when_it_took_effect_and_not_when_it_was_refused() {
    let bench = bench().await;
    assert_eq!(bench.ask("POST /job/resume").await.status, 409);
    assert_eq!(bench.ask("POST /job/pause").await.status, 200);
    let body =
        "PUT /heaters/platform/target\nContent-Type: application/json\n\n{\"target-celsius\":61.7}";
    assert_eq!(bench.ask(body).await.status, 200);
    let target = Command::SetTarget {
        heater: "platform".to_owned(),
        celsius: 61.7,
    };
    let expected = [Command::PauseJob, target].map(|command| (7200.0, Change::Command(command)));
    assert_eq!(changes(&bench), expected);
}

#[tokio::test]
async fn a_command_that_is_put_off_is_logged_at_the_moment_of_its_effect() {
    let plain = include_str!("../../../../dialects/plain.toml");
    let late = plain.replacen(
        "command = \"pause-job\"",
        "command = \"pause-job\"\neffect-after-ms = 5000",
        1,
    );
    assert_ne!(plain, late, "the dialect pauses jobs");
    let dialect = crate::dialect::DialectFile::parse("late", &late).unwrap();
    let bench = with(|options| options.dialect = std::sync::Arc::new(dialect)).await;
    bench.host.clock().jump_to(super::PRINTING).unwrap();
    assert_eq!(bench.ask("POST /job/pause").await.status, 200);
    assert_eq!(changes(&bench), []);
    ask(&bench, "POST /clock/jump\n\n{\"by\":\"1m\"}").await;
    assert_eq!(
        changes(&bench).last(),
        Some(&(7205.0, Change::Command(Command::PauseJob)))
    );
}

#[tokio::test]
async fn an_event_takes_effect_for_clients_at_once() {
    let bench = bench().await;
    assert_eq!(
        bench.ask("GET /job").await.json()["job-state"],
        "processing"
    );
    ask(&bench, "POST /events\n\n{\"action\":\"jam\"}").await;
    assert_eq!(
        bench.ask("GET /job").await.json()["job-state"],
        "processing-stopped"
    );
    assert_eq!(bench.host.truth().phase, Phase::Paused);
}
