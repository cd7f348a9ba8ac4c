//! Faults and drifts on the timeline.

use proptest::prelude::*;

use super::*;
use crate::scenario::Repeat;
use crate::sim::InForce;

/// Gives the built-in heat-up with events laid over it.
fn with_events(events: &str) -> Simulation {
    let text = format!(
        "include = \"heat-up\"\ntitle = \"Troubles\"\nlength = \"2h\"\nevent = []\n{events}"
    );
    let text = text.replace("event = []\n[[event]]", "[[event]]");
    Simulation::new(
        Arc::new(Scenario::parse("troubles.toml", &text).unwrap()),
        1,
    )
}

fn names(truth: &Truth) -> Vec<&str> {
    let in_force = truth.in_force.iter();
    in_force.map(|known| known.name.as_str()).collect()
}

#[test]
fn a_fault_is_in_force_from_its_very_tick_until_it_has_lasted() {
    let mut printer = with_events(
        "[[event]]\nat = \"10s\"\naction = \"fault-raised\"\nfault = \"refuse\"\nlasts = \"5s\"\n",
    );
    for (seconds, expected) in [
        (9.95, vec![]),
        (10.0, vec!["refuse"]),
        (14.95, vec!["refuse"]),
        (15.0, vec![]),
    ] {
        assert_eq!(names(&printer.truth_at(at(seconds))), expected, "{seconds}");
    }
}

#[test]
fn what_lasts_for_ever_is_in_force_until_an_event_clears_it_by_its_name() {
    let mut printer = with_events(
        "[[event]]\nat = \"10s\"\naction = \"fault-raised\"\nfault = \"refuse\"\nname = \"wifi\"\n\
         [[event]]\nat = \"10s\"\naction = \"fault-raised\"\nfault = \"reset\"\n\
         [[event]]\nat = \"10s\"\naction = \"drift-raised\"\nname = \"wifi\"\n\
         drift = { pointer = \"/job\", change = \"replace-by-null\" }\n\
         [[event]]\nat = \"20s\"\naction = \"fault-cleared\"\nname = \"wifi\"\n\
         [[event]]\nat = \"30s\"\naction = \"drift-cleared\"\nname = \"wifi\"\n",
    );
    assert_eq!(
        names(&printer.truth_at(at(10.0))),
        ["wifi", "reset", "wifi"]
    );
    let drift = |known: &InForce| matches!(known.trouble, Trouble::Drift(_));
    let after = printer.truth_at(at(20.0));
    assert_eq!(names(&after), ["reset", "wifi"]);
    assert!(drift(&after.in_force[1]));
    assert_eq!(names(&printer.truth_at(at(3600.0))), ["reset"]);
}

#[test]
fn an_event_that_happens_again_while_its_fault_lasts_begins_it_anew() {
    let mut printer = with_events(
        "[[event]]\nat = \"10s\"\nrepeat = { every = \"3s\", times = 3 }\n\
         action = \"fault-raised\"\nfault = \"refuse\"\nlasts = \"5s\"\n",
    );
    let seen = printer.truth_at(at(16.0)).in_force;
    assert_eq!(seen.len(), 1);
    assert_eq!((seen[0].since, seen[0].until), (Tick(160), Some(Tick(210))));
    assert!(printer.truth_at(at(21.0)).in_force.is_empty());
    let numbers: Vec<_> = printer
        .wire_changes()
        .iter()
        .map(|(_, change)| match change {
            WireChange::Began(begun) => (true, begun.number),
            WireChange::Ended { number } => (false, *number),
            other => panic!("{other:?}"),
        })
        .collect();
    let expected = [
        (true, 1),
        (false, 1),
        (true, 2),
        (false, 2),
        (true, 3),
        (false, 3),
    ];
    assert_eq!(numbers, expected);
}

#[test]
fn a_fault_that_ends_at_the_tick_at_which_another_begins_ends_first() {
    let mut printer = with_events(
        "[[event]]\nat = \"10s\"\nrepeat = { every = \"5s\", times = 2 }\n\
         action = \"fault-raised\"\nfault = \"refuse\"\nlasts = \"5s\"\n",
    );
    printer.advance_to(Tick(1000));
    let began = |change: &WireChange| matches!(change, WireChange::Began(_));
    let seen: Vec<_> = printer
        .wire_changes()
        .iter()
        .map(|(tick, change)| (tick.0, began(change)))
        .collect();
    assert_eq!(seen, [(100, true), (150, false), (150, true), (200, false)]);
}

#[test]
fn a_fault_waits_for_whatever_an_event_can_wait_for() {
    let mut printer = with_events(
        "[[event]]\nat-progress-percent = 30\naction = \"fault-raised\"\nfault = \"reset\"\n\
         [[event]]\nat-layer = 40\ndelay = \"10s\"\naction = \"fault-raised\"\nfault = \"close\"\n\
         [[event]]\nwhen = { heater = \"extruder\", above-celsius = 100 }\n\
         action = \"fault-raised\"\nfault = \"stall\"\n",
    );
    let reached = (0..40_000)
        .map(|tick| printer.truth_at(Tick(tick).start()))
        .find(|truth| truth.in_force.len() == 3)
        .expect("all of them come");
    let since = |name: &str| {
        let known = reached.in_force.iter().find(|known| known.name == name);
        known.unwrap().since
    };
    let mut again = with_events("");
    let before_and_at = |tick: Tick, again: &mut Simulation| {
        [tick.0 - 1, tick.0].map(|tick| again.truth_at(Tick(tick).start()))
    };
    let [before, then] = before_and_at(since("stall"), &mut again);
    let celsius = |truth: &Truth| truth.heaters["extruder"].actual_celsius.unwrap();
    assert!(celsius(&before) < 100.0 && celsius(&then) >= 100.0);
    let [before, then] = before_and_at(since("reset"), &mut again);
    let progress = |truth: &Truth| truth.job.as_ref().unwrap().true_progress_percent;
    assert!(progress(&before) < 30.0 && progress(&then) >= 30.0);
    let [before, then] = before_and_at(Tick(since("close").0 - 100), &mut again);
    let layer = |truth: &Truth| truth.job.as_ref().unwrap().layer;
    assert_eq!((layer(&before), layer(&then)), (39, 40));
}

#[test]
fn a_power_dip_takes_no_fault_from_the_timeline_and_the_host_goes_and_comes() {
    let mut printer = with_events(
        "[[event]]\nat = \"10s\"\naction = \"fault-raised\"\nfault = \"reset\"\nlasts = \"1m\"\n\
         [[event]]\nat = \"20s\"\naction = \"power-dip\"\nlasts = \"8s\"\n\
         [[event]]\nat = \"40s\"\naction = \"host-updated\"\nlasts = \"4s\"\n\
         [[event]]\nat = \"50s\"\naction = \"host-updated\"\n\
         [[event]]\nat = \"55s\"\naction = \"key-revoked\"\n",
    );
    assert_eq!(names(&printer.truth_at(at(25.0))), ["reset"]);
    printer.advance_to(Tick(1000));
    let hosts: Vec<_> = printer
        .wire_changes()
        .iter()
        .filter(|(_, change)| !matches!(change, WireChange::Began(_) | WireChange::Ended { .. }))
        .map(|(tick, change)| (tick.0, change.clone()))
        .collect();
    let expected = [
        (200, WireChange::HostWent(Absence::PowerLoss)),
        (280, WireChange::HostCame),
        (400, WireChange::HostWent(Absence::Restart)),
        (440, WireChange::HostCame),
        (550, WireChange::KeyRevoked),
    ];
    assert_eq!(hosts, expected);
}

#[test]
fn no_dialect_can_show_what_the_timeline_has_in_force() {
    let mut printer = with_events(
        "[[event]]\nat = \"10s\"\naction = \"fault-raised\"\nfault = \"reset\"\nname = \"oriole\"\n",
    );
    let truth = printer.truth_at(at(11.0));
    assert_eq!(names(&truth), ["oriole"]);
    let shown = serde_json::to_string(&truth).unwrap();
    assert!(
        !shown.contains("oriole") && !shown.contains("in_force"),
        "{shown}"
    );
}

#[test]
fn somebody_has_to_look_only_where_the_timeline_acts_by_itself() {
    let quiet = with_events("[[event]]\nat = \"10s\"\naction = \"pause\"\n");
    assert!(!quiet.acts_on_wire());
    for action in [
        "action = \"fault-raised\"\nfault = \"reset\"",
        "action = \"host-restart\"\nlasts = \"4s\"",
        "action = \"key-revoked\"",
    ] {
        let printer = with_events(&format!("[[event]]\nat = \"10s\"\n{action}\n"));
        assert!(printer.acts_on_wire(), "{action}");
    }
}

/// Is any event that raises or clears, or takes the host away.
fn any_event() -> impl Strategy<Value = crate::scenario::Event> {
    let name = prop::sample::select(vec!["one", "two"]).prop_map(str::to_owned);
    let lasts = prop::option::of((1..3000_u64).prop_map(Tick));
    let action = (name, lasts, 0..6).prop_map(|(name, lasts, kind)| match kind {
        0 => Action::FaultCleared { name },
        1 => Action::DriftCleared { name },
        2 => Action::DriftRaised {
            name,
            drift: Arc::new(crate::drift::Drift::of("/job", crate::drift::ReplaceByNull)),
            lasts,
        },
        3 => Action::PowerDip {
            lasts: lasts.unwrap_or(Tick(10)),
        },
        _ => Action::FaultRaised {
            name,
            fault: Arc::new(crate::fault::Fault::Refuse.into()),
            lasts,
        },
    });
    let repeat = prop::option::of((1..2000_u64, 1..20_u32, 0..1000_u64)).prop_map(|repeat| {
        repeat.map(|(every, times, jitter)| Repeat {
            every: Tick(every),
            times,
            jitter: Tick(jitter.min(every / 2)),
        })
    });
    (0..20_000_u64, action, repeat).prop_map(|(at, action, repeat)| crate::scenario::Event {
        when: crate::scenario::When::At(Tick(at)),
        delay: Tick(0),
        action,
        repeat,
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn what_is_in_force_does_not_depend_on_who_asked_before_or_how_often(
        events in prop::collection::vec(any_event(), 1..8),
        seed in any::<u64>(),
        end in 1..25_000_u64,
        asked in prop::collection::vec(0..25_000_u64, 0..40),
    ) {
        let mut scenario = Scenario::builtin("heat-up").unwrap().unwrap();
        scenario.events = events;
        let scenario = Arc::new(scenario);
        let mut asked_often = Simulation::new(Arc::clone(&scenario), seed);
        let mut asked_once = Simulation::new(scenario, seed);
        let mut asked = asked;
        asked.sort_unstable();
        for tick in asked.into_iter().filter(|tick| *tick < end) {
            asked_often.truth_at(Tick(tick).start());
        }
        let end = Tick(end).start();
        prop_assert_eq!(asked_often.truth_at(end), asked_once.truth_at(end));
        prop_assert_eq!(asked_often.wire_changes(), asked_once.wire_changes());
        // What has begun and has not ended is what is in force, and nothing else.
        let mut in_force = Vec::new();
        for (_, change) in asked_once.wire_changes() {
            match change {
                WireChange::Began(begun) => in_force.push(begun.clone()),
                WireChange::Ended { number } => in_force.retain(|known| known.number != *number),
                _ => {}
            }
        }
        prop_assert_eq!(asked_once.truth_at(end).in_force, in_force);
    }
}
