//! The log as text.

use std::time::Duration;

use proptest::prelude::*;
use serde_json::json;

use crate::control::{Change, ClockChange, Entry, LogError, LogHeader, LoggedRun};
use crate::drift::{Drift, ReplaceByNull};
use crate::fault::{Fault, Scope, ScopedFault, Span};
use crate::sim::{Command, VirtualTime};

const HEADER: &str = r#"{"coldbed-log":1,"scenario":"printing","seed":5,"dialect":"plain"}"#;

fn any_change() -> impl Strategy<Value = Change> {
    let scoped = (any::<u64>(), 0..1_000_000_000_u64).prop_map(|(seed, nanos)| ScopedFault {
        fault: Fault::KeyRevoked,
        scope: Scope {
            seed,
            lasts: Some(Span(Duration::from_nanos(nanos))),
            ..Scope::default()
        },
    });
    let target = (0.0..300.0_f64).prop_map(|celsius| Command::SetTarget {
        heater: "platform".to_owned(),
        celsius,
    });
    prop_oneof![
        scoped.prop_map(Change::FaultRaised),
        target.prop_map(Change::Command),
        any::<u64>().prop_map(Change::FaultCleared),
        any::<u64>().prop_map(Change::DriftCleared),
        (0.0..1e9_f64).prop_map(|rate| Change::Clock(ClockChange::Rate(rate))),
        Just(Change::Clock(ClockChange::Paused)),
        Just(Change::Clock(ClockChange::Resumed)),
        any::<u64>().prop_map(|nanos| {
            let to = VirtualTime::new(Duration::from_nanos(nanos));
            Change::Clock(ClockChange::JumpedTo(to))
        }),
        "/[a-z]{1,5}".prop_map(|pointer| Change::DriftRaised(Drift::of(pointer, ReplaceByNull))),
        (-1e6..1e6_f64).prop_map(|celsius| {
            let keys = json!({ "action": "set-target", "heater": "platform", "celsius": celsius });
            Change::Event(keys.as_object().unwrap().clone())
        }),
    ]
}

proptest! {
    #[test]
    fn an_entry_is_read_back_as_exactly_what_was_written(
        number in any::<u64>(),
        nanos in any::<u64>(),
        change in any_change(),
    ) {
        let at = VirtualTime::new(Duration::from_nanos(nanos));
        let entry = Entry { number, at, change };
        let text = format!("{HEADER}\n{}\n", serde_json::to_string(&entry).unwrap());
        let read = LoggedRun::read(text.as_bytes()).unwrap();
        prop_assert_eq!(read.entries, [entry]);
    }

    #[test]
    fn no_bytes_make_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let _ = LoggedRun::read(&bytes[..]);
        let _ = LoggedRun::read([HEADER.as_bytes(), b"\n", &bytes].concat().as_slice());
    }
}

#[test]
fn entries_come_in_order_of_time_and_then_of_number() {
    let line = |number: u64, at: &str| {
        format!(r#"{{"number":{number},"at":"{at}","change":{{"fault-cleared":1}}}}"#)
    };
    let text = [HEADER, &line(1, "2h"), "", &line(3, "1h"), &line(2, "1h")].join("\n");
    let read = LoggedRun::read(text.as_bytes()).unwrap();
    let order: Vec<u64> = read.entries.iter().map(|entry| entry.number).collect();
    assert_eq!(order, [2, 3, 1]);
    assert_eq!(read.header.seed, 5);
    assert_eq!(read.header.coldbed_log, LogHeader::VERSION);
}

#[test]
fn what_is_no_log_is_told_with_its_line() {
    let told = |text: &str| LoggedRun::read(text.as_bytes()).unwrap_err().to_string();
    let entry =
        |change: &str| format!("{HEADER}\n{{\"number\":1,\"at\":\"1h\",\"change\":{change}}}");
    insta::assert_snapshot!(
        [
            told(""),
            told("hello"),
            told(&HEADER.replace(":1", ":2")),
            told(&HEADER.replace('}', ",\"forgotten\":12}")),
            told(&HEADER.replace('}', ",\"colour\":1}")),
            told(&entry("\"rained\"")),
            told(&entry("{\"fault-raised\":{\"fault\":\"refusee\"}}")),
            told(&entry("{\"clock\":\"paused\"}").replace("1h", "soon")),
            told(&entry("{\"clock\":\"paused\"} {}")),
        ]
        .join("\n")
    );
    let long = format!("{HEADER}\n{}", " ".repeat(2 << 20));
    assert!(matches!(
        LoggedRun::read(long.as_bytes()),
        Err(LogError::Line { line: 2, .. })
    ));
}
