//! What is in force when, and for whom.

use std::sync::mpsc;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use http::StatusCode;
use proptest::prelude::*;

use crate::fault::{
    Cut, Ending, Fault, FaultBoard, FaultChange, Network, Occasion, Position, Probability, Scope,
    ScopedFault, Span,
};
use crate::sim::VirtualTime;

const SUMMARY: Occasion<'static> = Occasion {
    connection: 7,
    answers_before: 0,
    method: "GET",
    path: "/printer",
};

fn unavailable() -> Fault {
    Fault::status(StatusCode::SERVICE_UNAVAILABLE)
}

fn scoped(fault: Fault, scope: Scope) -> ScopedFault {
    ScopedFault { fault, scope }
}

/// Tells which fault says what the answer to a request is.
fn answers(board: &FaultBoard, occasion: &Occasion<'_>) -> Option<Fault> {
    let (_, scoped) = board.of_exchange(occasion).answer?;
    Some(scoped.fault.clone())
}

/// Is a board with a clock that the test sets.
fn with_clock() -> (FaultBoard, impl Fn(u64)) {
    let now = Arc::new(Mutex::new(VirtualTime::ZERO));
    let shown = Arc::clone(&now);
    let board = FaultBoard::new(move || *shown.lock().unwrap(), |_| {});
    let set = move |seconds| {
        *now.lock().unwrap() = VirtualTime::new(Duration::from_secs(seconds));
    };
    (board, set)
}

#[test]
fn the_first_raised_decides_and_the_next_follows_when_it_is_taken_back() {
    let board = FaultBoard::default();
    let first = board.raise(unavailable());
    let second = board.raise(Fault::LoginPage);
    assert_eq!(answers(&board, &SUMMARY), Some(unavailable()));
    drop(first);
    assert_eq!(answers(&board, &SUMMARY), Some(Fault::LoginPage));
    drop(second);
    assert_eq!(answers(&board, &SUMMARY), None);
    assert!(board.raised().is_empty());
}

#[test]
fn what_does_not_exclude_each_other_happens_together() {
    let board = FaultBoard::default();
    let half = Position::BodyByte(3);
    let _status = board.raise(unavailable());
    let _reset = board.raise(Fault::Reset { at: half });
    let _too_late = board.raise(Fault::Close {
        at: Position::Start,
    });
    let _slow = board.raise(Fault::Latency {
        of: Span::from_millis(200),
        jitter: Span::ZERO,
    });
    let _slower = board.raise(Fault::Latency {
        of: Span::from_millis(50),
        jitter: Span::ZERO,
    });
    let effects = board.of_exchange(&SUMMARY);
    assert_eq!(effects.script.cut, Some(Cut::At(half, Ending::Reset)));
    assert_eq!(effects.latency, Duration::from_millis(250));
    assert!(effects.answer.is_some());
    assert_eq!(effects.met.len(), 4);
    // What had no part in it is not counted.
    let happened: Vec<u64> = board
        .raised()
        .iter()
        .map(|raised| raised.happened)
        .collect();
    assert_eq!(happened, [1, 1, 0, 1, 1]);
}

#[test]
fn a_fault_for_a_route_leaves_the_others_alone() {
    let board = FaultBoard::default();
    let scope = Scope {
        method: Some("GET".to_owned()),
        ..Scope::route("/heaters/{name}").unwrap()
    };
    let _guard = board.raise(scoped(unavailable(), scope));
    let asks = |method, path| {
        let occasion = Occasion {
            method,
            path,
            ..SUMMARY
        };
        answers(&board, &occasion).is_some()
    };
    assert!(asks("GET", "/heaters/extruder"));
    assert!(!asks("PUT", "/heaters/extruder"));
    assert!(!asks("GET", "/heaters/extruder/target"));
    assert!(!asks("GET", "/printer"));
}

#[test]
fn a_fault_for_a_connection_leaves_the_others_alone() {
    let board = FaultBoard::default();
    let scope = Scope {
        connection: Some(7),
        ..Scope::default()
    };
    let _guard = board.raise(scoped(unavailable(), scope));
    assert!(answers(&board, &SUMMARY).is_some());
    let other = Occasion {
        connection: 8,
        ..SUMMARY
    };
    assert!(answers(&board, &other).is_none());
}

#[test]
fn a_number_of_times_counts_what_it_happens_to_behind_those_skipped() {
    let board = FaultBoard::default();
    let scope = Scope {
        skip: 2,
        ..Scope::times(3)
    };
    let _guard = board.raise(scoped(unavailable(), scope));
    let met: Vec<bool> = (0..8)
        .map(|_| answers(&board, &SUMMARY).is_some())
        .collect();
    assert_eq!(met, [false, false, true, true, true, false, false, false]);
    assert_eq!(board.raised()[0].happened, 3);
}

#[test]
fn a_window_begins_and_ends_in_virtual_time() {
    let (board, set) = with_clock();
    set(100);
    let scope = Scope {
        after: Span::from_secs(10),
        lasts: Some(Span::from_secs(5)),
        ..Scope::default()
    };
    let _guard = board.raise(scoped(Fault::Refuse, scope));
    let mut refused = Vec::new();
    for at in 108..118 {
        set(at);
        refused.push(board.refuses());
    }
    assert_eq!(refused[..2], [false; 2]);
    assert_eq!(refused[2..7], [true; 5]);
    assert_eq!(refused[7..], [false; 3]);
    let at = |seconds| VirtualTime::new(Duration::from_secs(seconds));
    assert_eq!(board.next_edge(at(100)), Some(at(110)));
    assert_eq!(board.next_edge(at(110)), Some(at(115)));
    assert_eq!(board.next_edge(at(115)), None);
}

#[test]
fn only_connections_that_were_open_then_are_half_open() {
    let board = FaultBoard::default();
    let before = board.generation();
    let guard = board.raise(Fault::HalfOpen);
    let after = board.generation();
    assert_eq!(board.network(1, before), Network::HalfOpen);
    assert_eq!(board.network(2, after), Network::Up);
    drop(guard);
    assert_eq!(board.network(1, before), Network::Lost);
}

#[test]
fn connections_that_are_opened_before_a_window_are_half_open_within_it() {
    let (board, set) = with_clock();
    let scope = Scope {
        after: Span::from_secs(60),
        ..Scope::default()
    };
    let _guard = board.raise(scoped(Fault::HalfOpen, scope));
    let opened = board.generation();
    assert_eq!(board.network(1, opened), Network::Up);
    set(60);
    board.edge_passed();
    assert_eq!(board.network(1, opened), Network::HalfOpen);
    assert_eq!(board.network(2, board.generation()), Network::Up);
}

#[test]
fn an_answer_under_way_meets_only_what_has_come_into_force_since() {
    let board = FaultBoard::default();
    let _early = board.raise(scoped(
        Fault::Latency {
            of: Span::from_secs(1),
            jitter: Span::ZERO,
        },
        Scope::default(),
    ));
    let decided = board.generation();
    let before = board.of_exchange(&SUMMARY);
    let _late = board.raise(Fault::reset_at(Position::Byte(5)));
    let after = board.of_exchange_under_way(&SUMMARY, before, decided);
    assert_eq!(after.latency, Duration::from_secs(1));
    assert_eq!(
        after.script.cut,
        Some(Cut::At(Position::Byte(5), Ending::Reset))
    );
    assert_eq!(after.met.len(), 2);
}

#[test]
fn a_connection_is_closed_on_reuse_only_when_it_is_used_again() {
    let board = FaultBoard::default();
    let _guard = board.raise(Fault::CloseOnReuse { reset: false });
    assert_eq!(board.of_exchange(&SUMMARY).script.cut, None);
    let again = Occasion {
        answers_before: 1,
        ..SUMMARY
    };
    assert_eq!(
        board.of_exchange(&again).script.cut,
        Some(Cut::At(Position::Start, Ending::Close))
    );
}

#[test]
fn every_change_is_told_in_order() {
    let (sender, told) = mpsc::channel();
    let board = FaultBoard::new(
        || VirtualTime::ZERO,
        move |change| sender.send(change).unwrap(),
    );
    drop(board.raise(Fault::Refuse));
    let refuse = || Arc::new(ScopedFault::from(Fault::Refuse));
    assert_eq!(told.try_recv(), Ok(FaultChange::Raised(refuse())));
    assert_eq!(told.try_recv(), Ok(FaultChange::Cleared(refuse())));
    assert!(told.try_recv().is_err());
}

#[tokio::test]
async fn a_board_without_a_host_is_settled_at_once() {
    let board = FaultBoard::default();
    let guard = board.raise(Fault::Refuse);
    guard.settled().await;
    guard.clear().await;
    assert!(!board.refuses());
}

fn drawn(probability: f64, seed: u64, count: u32) -> Vec<bool> {
    let board = FaultBoard::default();
    let scope = Scope {
        probability: Probability::new(probability),
        seed,
        ..Scope::default()
    };
    let _guard = board.raise(scoped(unavailable(), scope));
    (0..count)
        .map(|_| answers(&board, &SUMMARY).is_some())
        .collect()
}

proptest! {
    #[test]
    fn draws_with_one_seed_are_the_same_and_hit_their_share(
        probability in 0.01_f64..=1.0,
        seed: u64,
    ) {
        const COUNT: u32 = 4000;
        let first = drawn(probability, seed, COUNT);
        prop_assert_eq!(&first, &drawn(probability, seed, COUNT));
        let hits = first.iter().filter(|hit| **hit).count() as f64;
        let expected = probability * f64::from(COUNT);
        // Six standard deviations of a binomial count: once in some 10^9 runs by chance.
        let spread = (expected * (1.0 - probability)).sqrt();
        prop_assert!((hits - expected).abs() <= 6.0 * spread + 1.0, "{} of {}", hits, expected);
    }

    #[test]
    fn jitter_is_within_its_bound_and_the_same_for_one_seed(seed: u64, jitter_ms in 1_u64..1000) {
        let delays = || {
            let board = FaultBoard::default();
            let fault = Fault::Latency {
                of: Span::from_millis(100),
                jitter: Span::from_millis(jitter_ms),
            };
            let scope = Scope { seed, ..Scope::default() };
            let _guard = board.raise(scoped(fault, scope));
            (0..50).map(|_| board.of_exchange(&SUMMARY).latency).collect::<Vec<_>>()
        };
        let first = delays();
        let (low, high) = (Duration::from_millis(100), Duration::from_millis(100 + jitter_ms));
        prop_assert!(first.iter().all(|delay| (low..=high).contains(delay)));
        prop_assert!(first.iter().any(|delay| *delay != first[0]));
        prop_assert_eq!(first, delays());
    }
}

#[test]
fn a_connection_from_before_a_half_open_time_that_is_over_is_lost() {
    let board = FaultBoard::default();
    let before = board.generation();
    let guard = board.raise(Fault::HalfOpen);
    assert_eq!(board.network(1, before), Network::HalfOpen);
    let meanwhile = board.generation();
    drop(guard);
    assert_eq!(board.network(1, before), Network::Lost);
    assert_eq!(board.network(1, meanwhile), Network::Up);
    assert_eq!(board.network(1, board.generation()), Network::Up);
}

#[test]
fn only_the_connection_in_scope_is_lost() {
    let board = FaultBoard::default();
    let before = board.generation();
    drop(board.raise(ScopedFault {
        fault: Fault::HalfOpen,
        scope: Scope {
            connection: Some(2),
            ..Scope::default()
        },
    }));
    assert_eq!(board.network(1, before), Network::Up);
    assert_eq!(board.network(2, before), Network::Lost);
}

#[test]
fn a_connection_from_before_a_time_of_refusing_is_closed_also_when_that_is_over() {
    let board = FaultBoard::default();
    let before = board.generation();
    assert!(!board.is_closed(before));
    drop(board.raise(Fault::Refuse));
    assert!(board.is_closed(before));
    assert!(!board.is_closed(board.generation()));
}

#[test]
fn what_is_carried_out_untold_is_in_force_and_on_no_list() {
    let told = Arc::new(Mutex::new(0));
    let board = FaultBoard::new(|| VirtualTime::ZERO, {
        let told = Arc::clone(&told);
        move |_| *told.lock().unwrap() += 1
    });
    let guard = board.raise_untold(Fault::Refuse);
    assert!(board.refuses() && board.raised().is_empty());
    drop(guard);
    assert!(!board.refuses());
    assert_eq!(*told.lock().unwrap(), 0);
}

#[test]
fn two_faults_in_a_table_of_one_are_refused() {
    let two = serde_json::json!({ "reset": {}, "close": {} });
    let error = serde_json::from_value::<Fault>(two).unwrap_err();
    assert!(error.to_string().contains("one fault too many"), "{error}");
}
