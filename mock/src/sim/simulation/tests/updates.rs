//! What the host's updates do.

use super::*;

#[test]
fn an_update_changes_the_version_and_nothing_of_the_print() {
    let mut printer = with(&format!(
        "{TEN_MINUTES}\n[[event]]\nat = \"5m\"\naction = \"host-updated\"\nversion = \"1.1\"\n"
    ));
    let before = printer.truth_at(at(299.9));
    let after = printer.truth_at(at(300.0));
    assert_eq!(
        (&before.printer.host_version, before.printer.host_updates),
        (&None, 0)
    );
    assert_eq!(
        (
            after.printer.host_version.as_deref(),
            after.printer.host_updates
        ),
        (Some("1.1"), 1)
    );
    assert!(after.printer.host_answers);
    assert_eq!(after.printer.up_time_seconds, 3900);
    assert_eq!(after.phase, before.phase);
}

#[test]
fn an_update_with_a_restart_answers_nobody_so_long() {
    let mut printer = printer("host-updated", 1);
    let update_s = 5.0 * 3600.0;
    let mut host = |seconds: f64| printer.truth_at(at(update_s + seconds)).printer;
    assert!(host(-0.1).host_answers);
    let down = host(39.9);
    assert!(!down.host_answers);
    assert_eq!((down.host_version, down.host_updates), (None, 1));
    let up = host(50.0);
    assert!(up.host_answers);
    assert_eq!(up.up_time_seconds, 10);
    assert_eq!(printer.truth_at(at(update_s + 60.0)).phase, Phase::Printing);
}

#[test]
fn the_scenario_lists_its_updates_as_they_then_happen() {
    let mut printer = with(
        "job = []
[[event]]
at = \"1m\"
action = \"host-updated\"
repeat = { every = \"10m\", times = 3 }
[[event]]
at = \"2m\"
delay = \"10m\"
action = \"host-updated\"
version = \"2 (beta)\"
[[event]]
at = \"11m\"
action = \"host-updated\"
version = \"1.5\"
lasts = \"5s\"
",
    );
    let mut seen: Vec<Option<String>> = Vec::new();
    for tick in 0..20_000 {
        let host = printer.truth_at(Tick(tick).start()).printer;
        let new = host.host_updates as usize - seen.len();
        // Of two at one moment only the later one is seen.
        seen.extend(vec![host.host_version; new]);
    }
    let listed: Vec<Option<&str>> = printer.scenario().host_updates().collect();
    assert_eq!(listed, [None, None, Some("1.5"), Some("2 (beta)"), None]);
    let seen: Vec<Option<&str>> = seen.iter().map(Option::as_deref).collect();
    assert_eq!(
        seen,
        [None, Some("1.5"), Some("1.5"), Some("2 (beta)"), None]
    );
}

#[test]
fn an_update_that_waits_for_no_fixed_time_is_listed_last() {
    let printer = with(
        "job = []
[[event]]
at-layer = 3
action = \"host-updated\"
version = \"late\"
[[event]]
at = \"1m\"
action = \"host-updated\"
",
    );
    let listed: Vec<Option<&str>> = printer.scenario().host_updates().collect();
    assert_eq!(listed, [None, Some("late")]);
    assert_eq!(printer.scenario().host_updates().count(), 2);
}
