//! TCP: order, loss, and ends.

use super::build::*;
use crate::capture::{Imported, Options, import};
use crate::format::End;
use crate::{ClosedBy, Content};

fn plain() -> Talk {
    let answer = ok(STATUS);
    let (one, rest) = answer.split_at(40);
    let (two, three) = rest.split_at(30);
    let talk = Talk::new().opens().asks(&GET[..10]).asks(&GET[10..]);
    let talk = talk.answers(one).answers(two).answers(three);
    talk.asks(GET).answers(ok("{}")).closes()
}

/// The segments of [`plain`], by what they are.
const ASKED_1: usize = 3;
const ANSWERED_1: usize = 5;
const ANSWERED_2: usize = 6;

fn closed(imported: &Imported) -> Vec<Option<(u128, ClosedBy, bool)>> {
    let connections = imported.session.connections.iter();
    let closed = connections.map(|connection| connection.closed);
    closed
        .map(|closed| closed.map(|(at, by, reset)| (at.as_millis(), by, reset)))
        .collect()
}

/// How the last exchange ended.
fn last_end(imported: &Imported) -> Option<End> {
    imported.session.exchanges.last()?.outcome.as_ref()?.end()
}

/// How an answer's bytes came: ms after the request, and how many.
fn pieces(imported: &Imported, exchange: usize) -> Vec<(u128, u64)> {
    let answer = imported.session.exchanges[exchange].answer().unwrap();
    let Content::Whole { pieces, .. } = &answer.content else {
        panic!("a stream")
    };
    let pieces = pieces.iter();
    pieces
        .map(|piece| (piece.after_seconds.as_millis(), piece.bytes))
        .collect()
}

#[test]
fn each_piece_has_the_time_of_its_packet() {
    let imported = plain().imported();
    assert_eq!(left_out(&imported), [""; 0]);
    let length = ok(STATUS).len() as u64;
    assert_eq!(pieces(&imported, 0), [(1, 40), (2, 30), (3, length - 70)]);
    assert_eq!(imported.session.exchanges[0].request.at.as_millis(), 4);
    assert_eq!(closed(&imported), [Some((11, ClosedBy::Watcher, false))]);
}

#[test]
fn retransmissions_and_overlaps_change_nothing() {
    let usual = plain().imported();
    let talk = plain().with(|sent| {
        // All of it once more, and once more shifted by some bytes.
        let again = sent[ANSWERED_1].clone();
        let mut longer = again.clone();
        longer.number += 25;
        longer.payload = [&again.payload[25..], &sent[ANSWERED_2].payload[..5]].concat();
        let mut shorter = sent[ASKED_1].clone();
        shorter.number += 3;
        shorter.payload = shorter.payload[3..6].to_vec();
        sent.insert(ANSWERED_1 + 1, longer);
        sent.insert(ANSWERED_1 + 1, again);
        sent.insert(ASKED_1 + 1, shorter);
        for (index, sent) in sent.iter_mut().enumerate() {
            sent.at_micros = index as u64;
        }
    });
    let imported = talk.imported();
    assert_eq!(told(&imported), told(&usual));
    assert_eq!(left_out(&imported), [""; 0]);
    let bytes: Vec<u64> = pieces(&imported, 0).iter().map(|piece| piece.1).collect();
    let length = ok(STATUS).len() as u64;
    // The 5 bytes of the next segment came with the overlap.
    assert_eq!(bytes, [40, 5, 25, length - 70]);
}

#[test]
fn what_comes_out_of_order_has_the_time_of_what_completes_it() {
    let talk = plain().with(|sent| {
        sent.swap(ANSWERED_1, ANSWERED_2);
        let (early, late) = (sent[ANSWERED_2].at_micros, sent[ANSWERED_1].at_micros);
        sent[ANSWERED_1].at_micros = early;
        sent[ANSWERED_2].at_micros = late;
    });
    let imported = talk.imported();
    assert_eq!(told(&imported), told(&plain().imported()));
    let length = ok(STATUS).len() as u64;
    assert_eq!(pieces(&imported, 0), [(2, 70), (3, length - 70)]);
}

#[test]
fn numbers_wrap_around() {
    let usual = plain().imported();
    for before in [1, 20, 60, 100] {
        let number = u32::MAX - before;
        let answer = ok(STATUS);
        let talk = Talk::new().numbered(number, number).opens();
        let talk = talk.asks(&GET[..10]).asks(&GET[10..]);
        let talk = talk.answers(&answer[..40]).answers(&answer[40..70]);
        let talk = talk.answers(&answer[70..]).asks(GET).answers(ok("{}"));
        let talk = talk.closes().with(|sent| sent.swap(ANSWERED_1, ANSWERED_2));
        let imported = talk.imported();
        assert_eq!(told(&imported), told(&usual));
        assert_eq!(left_out(&imported), [""; 0]);
    }
}

/// RFC 9293 section 3.8.4: a keep-alive has the number before the next one, with one byte or none.
#[test]
fn a_keep_alive_probe_is_no_data() {
    let probed = |payload: &[u8]| {
        plain().with(|sent| {
            let mut probe = sent[8].clone();
            probe.number -= 1;
            probe.payload = payload.to_vec();
            sent.insert(8, probe);
        })
    };
    let usual = plain().imported();
    for payload in [&b""[..], b"\0"] {
        let imported = probed(payload).imported();
        assert_eq!(imported.session, usual.session);
        assert_eq!(left_out(&imported), [""; 0]);
    }
}

#[test]
fn lost_bytes_end_the_answer_and_are_told() {
    let talk = plain().with(|sent| {
        sent.remove(ANSWERED_2);
    });
    let imported = talk.imported();
    insta::assert_snapshot!(format!(
        "{}{:#?}",
        imported.session.text(),
        left_out(&imported)
    ));
}

#[test]
fn after_lost_bytes_the_next_request_begins_a_connection() {
    let answer = ok(STATUS);
    let talk = Talk::new().opens().asks(GET).answers(&answer[..40]);
    let talk = talk.answers(&answer[40..70]).answers(&answer[70..]);
    let talk = talk.waits(5_000_000).asks(GET).answers(ok("[2]"));
    // Here the whole answer is lost, and the watcher has it.
    let talk = talk.waits(5_000_000).asks(GET).answers(ok("[3]")).asks("");
    let talk = talk.waits(5_000_000).asks(GET).answers(ok("[4]"));
    let talk = talk.waits(5_000_000).asks(GET).answers(ok("[5]")).closes();
    let talk = talk.with(|sent| {
        assert_eq!(sent[10].payload, ok("[3]").as_bytes());
        sent.remove(10);
        sent.remove(5);
    });
    let imported = talk.imported();
    insta::assert_snapshot!(format!(
        "{:#?}\n{:#?}\n{:#?}",
        told(&imported),
        closed(&imported),
        left_out(&imported)
    ));
}

#[test]
fn a_reset_in_the_body_is_the_answers_end_at_that_byte() {
    let answer = ok(STATUS);
    let cut = answer.len() - 20;
    let talk = Talk::new().opens().asks(GET).answers(&answer[..cut]);
    let imported = talk.resets(true).imported();
    assert_eq!(last_end(&imported), Some(End::Reset));
    assert_eq!(pieces(&imported, 0), [(1, cut as u64)]);
    assert_eq!(closed(&imported), [Some((5, ClosedBy::Host, true))]);
    let answer_bytes = imported.session.exchanges[0].answer().unwrap().bytes();
    assert_eq!(answer_bytes, answer.as_bytes()[..cut]);
    assert_eq!(left_out(&imported), [""; 0]);
}

#[test]
fn a_reset_by_the_watcher_is_its_leaving() {
    let talk = Talk::new().opens().asks(GET).answers(&ok(STATUS)[..30]);
    let imported = talk.resets(false).imported();
    assert_eq!(last_end(&imported), Some(End::WatcherLeft));
    assert_eq!(closed(&imported), [Some((5, ClosedBy::Watcher, true))]);
}

#[test]
fn a_host_that_refuses_has_a_connection_without_a_request() {
    let mut refused = Talk::new().at(20_000);
    refused = refused.opens().with(|sent| {
        sent.truncate(2);
        sent[1].syn = false;
        sent[1].rst = true;
    });
    let talk = plain().with(|sent| {
        for segment in &mut refused.sent {
            segment.from.set_port(if segment.from.port() == 80 {
                80
            } else {
                50_001
            });
            segment
                .to
                .set_port(if segment.to.port() == 80 { 80 } else { 50_001 });
        }
        sent.append(&mut refused.sent);
    });
    let imported = talk.imported();
    let [_, closed] = &closed(&imported)[..] else {
        panic!("{:?}", imported.session.connections)
    };
    assert_eq!(*closed, Some((21, ClosedBy::Host, true)));
}

#[test]
fn who_ends_first_has_closed_the_connection() {
    let talk = || Talk::new().opens().asks(GET).answers(ok(STATUS));
    let by_host = talk().ends(true).ends(false).imported();
    assert_eq!(closed(&by_host), [Some((6, ClosedBy::Host, false))]);
    let by_watcher = talk().ends(false).ends(true).resets(false).imported();
    assert_eq!(closed(&by_watcher), [Some((6, ClosedBy::Watcher, false))]);
    let by_nobody = talk().imported();
    assert_eq!(closed(&by_nobody), [Some((4, ClosedBy::Recorder, false))]);
}

#[test]
fn an_answer_that_is_cut_by_an_end_says_whose_it_was() {
    let talk = || Talk::new().opens().asks(GET).answers(&ok(STATUS)[..70]);
    let until_closed = |talk: Talk| talk.answers("HTTP/1.1 200 OK\r\n\r\n{}");
    let ends = [
        talk().ends(true).ends(false),
        talk().ends(false).ends(true),
        talk().ends(false),
        talk(),
        Talk::new().opens().asks(GET).ends(true),
        Talk::new().opens().asks(GET),
        Talk::new().opens().asks(GET).ends(false).ends(true),
        // Who has asked and says no more waits for the answer all the same.
        until_closed(Talk::new().opens().asks(GET).ends(false)).ends(true),
        // In the middle of it, it does not.
        until_closed(Talk::new().opens().asks(GET))
            .ends(false)
            .ends(true),
    ];
    let ends = ends.map(|talk| last_end(&talk.imported()).unwrap());
    let expected = [
        End::Closed,
        End::WatcherLeft,
        End::WatcherLeft,
        End::RecordingStopped,
        End::Closed,
        End::RecordingStopped,
        End::WatcherLeft,
        End::Complete,
        End::WatcherLeft,
    ];
    assert_eq!(ends, expected);
}

#[test]
fn a_connection_that_had_begun_before_is_taken_from_its_first_request_on() {
    let old = Talk::new().opens().asks(GET).answers(ok(STATUS));
    let talk = old.asks(GET).answers(ok("{}")).closes().with(|sent| {
        // In the middle of the first answer.
        sent[4].payload.drain(..50);
        sent[4].number += 50;
        sent.drain(..4);
    });
    let imported = talk.imported();
    insta::assert_snapshot!(format!(
        "{}{:#?}",
        imported.session.text(),
        left_out(&imported)
    ));
}

#[test]
fn the_host_is_known_by_its_answer_to_the_handshake() {
    let talk = plain().with(|sent| {
        sent.remove(0);
    });
    assert_eq!(told(&talk.imported()), told(&plain().imported()));
    // And its numbers by what the watcher expects.
    let talk = plain().with(|sent| {
        sent.remove(1);
    });
    assert_eq!(told(&talk.imported()), told(&plain().imported()));
}

#[test]
fn a_port_that_is_used_again_is_another_connection() {
    let first = Talk::new().opens().asks(GET).answers(ok("[1]")).closes();
    let second = Talk::new()
        .numbered(3_000_000_000, 2_000_000_000)
        .at(first.at_micros);
    let second = second.opens().asks(GET).answers(&ok("[2]")[..50]);
    // Of this one the end is not in the capture.
    let third = Talk::new()
        .numbered(500_000_000, 4_000_000_000)
        .at(second.at_micros);
    let third = third.opens().asks(GET).answers(ok("[3]")).closes();
    let sent = [first.sent, second.sent, third.sent].concat();
    // A segment of the first one comes late.
    let late = [&sent[..9], &sent[4..5], &sent[9..]].concat();
    for sent in [sent, late] {
        // The late one is far from the numbers of the second.
        let imported = import(&pcap(&sent), &Options::default()).unwrap();
        assert_eq!(imported.session.connections.len(), 3);
        let numbers: Vec<u64> = imported
            .session
            .exchanges
            .iter()
            .map(|exchange| exchange.connection)
            .collect();
        assert_eq!(numbers, [1, 2, 3]);
        insta::assert_snapshot!("a_port_used_again", told(&imported).join("\n"));
    }
}

#[test]
fn one_host_is_taken_and_the_others_are_told() {
    let one = Talk::new().opens().asks(GET).answers(ok("[1]")).closes();
    let other = Talk::between("192.0.2.10:50001", "192.0.2.7:8080").at(one.at_micros);
    let other = other.opens().asks(GET).answers(ok("[2]"));
    let other = other.asks(GET).answers(ok("[3]")).closes();
    let file = pcap(&[one.sent, other.sent].concat());
    let most = import(&file, &Options::default()).unwrap();
    assert_eq!(
        most.session.upstream.as_deref(),
        Some("http://192.0.2.7:8080")
    );
    assert_eq!(
        left_out(&most),
        ["1 exchange with 192.0.2.1:80: another host"]
    );
    let by_port = Options {
        port: Some(80),
        ..Options::default()
    };
    let by_host = Options {
        host: Some("192.0.2.1".parse().unwrap()),
        ..Options::default()
    };
    for options in [by_port, by_host] {
        let imported = import(&file, &options).unwrap();
        assert_eq!(told(&imported).len(), 1);
        assert_eq!(
            imported.session.upstream.as_deref(),
            Some("http://192.0.2.1")
        );
        assert_eq!(left_out(&imported), [""; 0]);
    }
    // The watcher's own address is no host's.
    let options = Options {
        host: Some("192.0.2.10".parse().unwrap()),
        ..Options::default()
    };
    assert!(import(&file, &options).is_err());
}

#[test]
fn a_hole_of_any_width_is_told() {
    let talk = || Talk::new().opens().asks(GET).answers(&ok(STATUS)[..50]);
    for width in [1, 1_000_000, 100_000_000] {
        let mut talk = talk();
        talk.answered += width;
        let talk = talk.answers("x").answers("x").answers("x");
        let imported = talk.imported();
        assert_eq!(last_end(&imported), Some(End::RecordingStopped));
        assert_eq!(imported.left_out.len(), 1, "{width}");
    }
}
