//! Careful watchers are never accused in any weather; mistaken ones are, as soon as it lasts long enough.

mod model;

use std::sync::{Arc, OnceLock};
use std::time::Duration;

use bytes::Bytes;
use coldbed_mock::dialect::Dialect;
use coldbed_mock::fault::{CertificateKind, Fault};
use proptest::prelude::*;

use super::*;
use crate::event::Event;
use crate::oracle::Timing;
use model::{Kind, Weather, live};

fn judge(kind: Kind, weather: &[(Weather, u64)]) -> Verdict {
    let events = live(kind, weather);
    let timing = Timing::every(Duration::from_secs(1));
    verify_general(&Trace::new(&events, timing), plain())
}

fn plain() -> &'static Dialect {
    static PLAIN: OnceLock<Arc<Dialect>> = OnceLock::new();
    PLAIN.get_or_init(|| Dialect::builtin("plain").unwrap())
}

fn is_accused(kind: Kind, weather: &[(Weather, u64)]) -> bool {
    matches!(judge(kind, weather), Verdict::Violated(_))
}

const PLAINLY_CAREFUL: Kind = Kind::Careful {
    backs_off: false,
    prints_changes: false,
};

#[track_caller]
fn catches(kind: Kind, weather: &[(Weather, u64)]) {
    assert!(is_accused(kind, weather), "{:?}", judge(kind, weather));
    let careful = judge(PLAINLY_CAREFUL, weather);
    assert!(matches!(careful, Verdict::Held { .. }), "{careful:?}");
}

use Weather::{
    Away, Busy, Cut, Extra, ExtraHeater, Fahrenheit, Good, Late, NullBody, NullTarget, Refused,
};

#[test]
fn old_data_must_not_stand_while_nothing_usable_comes() {
    for trouble in [Refused, Away, Busy(0), Cut] {
        catches(
            Kind::KeepsOldOnFailure,
            &[(Good, 5), (trouble, 14), (Good, 30)],
        );
    }
}

#[test]
fn what_is_kept_or_made_up_while_a_value_is_null_is_no_value_of_the_printer() {
    // The second job begins at second 9 with another target.
    let weather = [(Good, 6), (NullTarget, 8), (Good, 25)];
    catches(Kind::KeepsTargetOnNull, &weather);
    catches(Kind::ZeroForNull, &weather);
}

#[test]
fn nothing_is_asked_of_a_host_that_cannot_say_who_it_is_however_true_its_answers_are() {
    let mut events = live(PLAINLY_CAREFUL, &[(Good, 12)]);
    let (connection, is) = (99, CertificateKind::WrongName);
    let fault = Arc::new(Fault::TlsCertificate { is }.into());
    let shown = EventKind::FaultHappened {
        connection,
        exchange: None,
        fault,
    };
    let asked = EventKind::Request {
        connection,
        exchange: 99,
        method: "GET".to_owned(),
        target: "/printer".to_owned(),
        headers: Vec::new(),
        body: Bytes::new(),
    };
    let mut judge = |kind| {
        let at = Duration::from_secs(3);
        let place = events.partition_point(|event| event.at <= at);
        events.insert(place, Event { at, kind });
        let timing = Timing::every(Duration::from_secs(1));
        verify_general(&Trace::new(&events, timing), plain())
    };
    assert!(matches!(judge(shown), Verdict::Held { .. }));
    assert!(matches!(judge(asked), Verdict::Violated(_)));
}

#[test]
fn a_value_that_stays_the_same_is_right_by_whatever_way_it_was_found() {
    // From second 2 to 5 the first job goes on.
    let weather = [(Good, 2), (NullTarget, 2), (Good, 25)];
    assert!(!is_accused(Kind::KeepsTargetOnNull, &weather));
}

#[test]
fn a_change_of_unit_is_nobodys_fault_and_other_values_are_still_judged() {
    let weather = [(Good, 6), (Fahrenheit, 9), (Good, 25)];
    assert!(!is_accused(PLAINLY_CAREFUL, &weather));
    // The phase is not where the unit changed.
    let mut events = live(PLAINLY_CAREFUL, &weather);
    for event in &mut events {
        if let (10..=14, EventKind::Sighting(sighting)) = (event.at.as_secs(), &mut event.kind) {
            sighting.heaters["platform"].target_celsius = Claim::Value(199.0);
        }
    }
    let trace = Trace::new(&events, Timing::every(Duration::from_secs(1)));
    let verdict = verify_general(&trace, plain());
    assert!(
        matches!(&verdict, Verdict::Violated(violations)
        if violations[0].observed == "platform target-celsius 199"),
        "{verdict:?}"
    );
}

#[test]
fn a_watcher_recovers_lives_and_asks_on() {
    let weather = [(Good, 5), (Refused, 10), (Good, 40)];
    catches(Kind::NeverRecovers, &weather);
    catches(Kind::Dies, &weather);
    catches(Kind::StopsAsking, &weather);
}

#[test]
fn a_watcher_that_can_tell_a_value_tells_it_while_it_is_served_well() {
    // A member that nobody knows excuses nothing.
    let weather = [(Good, 5), (Cut, 2), (Extra, 30)];
    catches(Kind::AlwaysUnknown, &weather);
}

#[test]
fn who_takes_every_member_of_the_heaters_for_a_heater_may_give_up_on_one_that_is_none() {
    let weather = [(Good, 5), (ExtraHeater, 30), (Good, 20)];
    assert!(!is_accused(Kind::Strict, &weather));
}

#[test]
fn a_recovery_is_not_asked_for_before_its_time_has_come() {
    let weather = [(Good, 5), (Refused, 10), (Good, 3)];
    assert!(!is_accused(Kind::NeverRecovers, &weather));
}

#[test]
fn who_is_asked_to_wait_may_wait() {
    let backs_off = Kind::Careful {
        backs_off: true,
        prints_changes: false,
    };
    let weather = [(Good, 5), (Busy(20), 4), (Good, 60)];
    assert!(
        !is_accused(backs_off, &weather),
        "{:?}",
        judge(backs_off, &weather)
    );
}

#[test]
fn a_claim_that_rests_on_a_late_answer_is_right_until_that_has_arrived() {
    let weather = [(Good, 5), (Late(1900), 20), (Good, 30)];
    assert!(
        !is_accused(PLAINLY_CAREFUL, &weather),
        "{:?}",
        judge(PLAINLY_CAREFUL, &weather)
    );
}

#[test]
fn a_verdict_says_what_was_wrong_at_the_time() {
    let Verdict::Violated(violations) = judge(
        Kind::KeepsTargetOnNull,
        &[(Good, 6), (NullTarget, 8), (Good, 25)],
    ) else {
        panic!("not caught");
    };
    let subject = violations[0].subject.as_deref();
    assert_eq!(
        subject,
        Some("drift: /heaters/extruder/target-celsius is null")
    );
}

fn weather() -> impl Strategy<Value = Vec<(Weather, u64)>> {
    let kinds = prop_oneof![
        (0..3_u64).prop_map(|it| Busy(it * 2)),
        Just(Refused),
        Just(Away),
        (100..6000_u64).prop_map(Late),
        Just(Cut),
        Just(NullTarget),
        Just(Fahrenheit),
        Just(Extra),
        Just(ExtraHeater),
        Just(NullBody),
    ];
    let spell = (
        (1..12_u64).prop_map(|lasts| (Good, lasts)),
        (kinds, 1..16_u64),
    );
    prop::collection::vec(spell, 1..4).prop_map(|spells| {
        let mut weather: Vec<_> = spells
            .into_iter()
            .flat_map(|(good, bad)| [good, bad])
            .collect();
        weather.push((Good, 50));
        weather
    })
}

fn careful() -> impl Strategy<Value = Kind> {
    prop_oneof![
        (any::<bool>(), any::<bool>()).prop_map(|(backs_off, prints_changes)| Kind::Careful {
            backs_off,
            prints_changes,
        }),
        Just(Kind::Strict),
    ]
}

proptest! {
    #[test]
    fn no_careful_watcher_is_accused_in_any_weather(kind in careful(), weather in weather()) {
        let verdict = judge(kind, &weather);
        prop_assert!(matches!(verdict, Verdict::Held { .. }), "{:?}", verdict);
    }

    #[test]
    fn who_keeps_old_data_is_accused_once_an_outage_is_long_enough(
        before in 3..10_u64, lasts in 12..20_u64, after in 20..40_u64,
    ) {
        let weather = [(Good, before), (Refused, lasts), (Good, after)];
        prop_assert!(is_accused(Kind::KeepsOldOnFailure, &weather));
        prop_assert!(is_accused(Kind::StopsAsking, &weather));
    }

    #[test]
    fn who_makes_zero_of_null_is_accused_whenever_the_printer_heats_meanwhile(
        before in 3..20_u64, lasts in 9..20_u64,
    ) {
        let weather = [(Good, before), (NullTarget, lasts), (Good, 20)];
        prop_assert!(is_accused(Kind::ZeroForNull, &weather));
    }
}
