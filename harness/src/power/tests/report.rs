//! The report in words and as JSON.

use super::*;

/// A wall display: a poll every 5 s for 10 min over one TLS connection kept open, 700 bytes there and
/// back, 30 ms of waiting each.
fn wall() -> Traffic {
    Traffic {
        observed: Duration::from_secs(600),
        polls: 120,
        retries: 2,
        requests: 122,
        connections_opened: 3,
        tls_handshakes: 3,
        bytes_received: 122 * 520,
        bytes_sent: 122 * 180,
        waiting: Duration::from_millis(122 * 30),
    }
}

fn of(traffic: &Traffic, board: &str) -> PowerEstimate {
    let board = Board::builtin(board).unwrap();
    estimate(traffic, &board, &Cell::builtin("lipo-1000").unwrap())
}

#[test]
fn an_estimate_in_words() {
    insta::assert_snapshot!(text(&of(&wall(), "wifi-two-core"), 80));
}

#[test]
fn an_estimate_of_what_is_moot_says_so_first() {
    insta::assert_snapshot!(text(&of(&wall(), "wall-display"), 60));
}

#[test]
fn an_estimate_of_a_board_whose_led_is_what_empties_the_cell() {
    let slow = Traffic {
        observed: Duration::from_secs(36_000),
        polls: 120,
        ..wall()
    };
    insta::assert_snapshot!(text(&of(&slow, "wifi-two-core-usb"), 80));
}

#[test]
fn an_estimate_of_a_watcher_that_never_asked() {
    let silent = Traffic {
        observed: Duration::from_secs(60),
        ..Traffic::default()
    };
    insta::assert_snapshot!(text(&of(&silent, "wifi-small"), 80));
}

#[test]
fn no_sentence_is_wider_than_asked() {
    for width in [54, 60, 72, 80, 100] {
        let text = text(&of(&wall(), "wall-display"), width);
        for line in text.lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
    }
}

#[test]
fn an_estimate_as_json() {
    insta::assert_json_snapshot!(of(&wall(), "wall-display"));
}
