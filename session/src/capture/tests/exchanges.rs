//! HTTP/1.1 on a connection.

use super::build::*;
use crate::capture::{Imported, Options, import};
use crate::format::Framing;
use crate::http::websocket::host_frame;
use crate::{Content, FrameKind};

fn text(imported: &Imported) -> String {
    format!("{}{:#?}", imported.session.text(), left_out(imported))
}

fn framings(imported: &Imported) -> Vec<Framing> {
    let exchanges = imported.session.exchanges.iter();
    exchanges
        .map(|exchange| exchange.answer().unwrap().framing)
        .collect()
}

#[test]
fn several_exchanges_are_on_one_connection_however_they_are_framed() {
    let head = "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n";
    let talk = Talk::new().opens();
    let talk = talk.asks("HEAD /printer HTTP/1.1\r\n\r\n");
    // RFC 9110 section 8.6: the length that a GET would have got.
    let talk = talk.answers("HTTP/1.1 200 OK\r\nContent-Length: 54\r\n\r\n");
    let talk = talk.asks("DELETE /job HTTP/1.1\r\n\r\n");
    let talk = talk.answers("HTTP/1.1 204 No Content\r\n\r\n");
    let talk = talk.asks("GET /printer HTTP/1.1\r\nIf-None-Match: \"1\"\r\n\r\n");
    let talk = talk.answers("HTTP/1.1 304 Not Modified\r\nContent-Length: 54\r\n\r\n");
    let talk = talk.asks(GET).answers(ok(STATUS));
    let talk = talk.asks(GET).answers(head).answers("6\r\n{\"job");
    let talk = talk.answers("\"\r\n6\r\n:null}\r").answers("\n0\r\n\r\n");
    let talk = talk.asks("GET /printer HTTP/1.0\r\n\r\n");
    let talk = talk.answers("HTTP/1.0 200 OK\r\n\r\n{\"job\"");
    let talk = talk.answers(":null}").ends(true).ends(false);
    let imported = talk.imported();
    assert_eq!(
        framings(&imported),
        [
            Framing::None,
            Framing::None,
            Framing::None,
            Framing::Length,
            Framing::Chunked,
            Framing::Close
        ]
    );
    insta::assert_snapshot!(text(&imported));
}

#[test]
fn pipelined_requests_get_their_answers_in_order_wherever_they_are_split() {
    let asked = ["/a", "/b", "/c"].map(|target| format!("GET {target} HTTP/1.1\r\n\r\n"));
    let answers = [
        ok("[1]"),
        "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n3\r\n[2]\r\n0\r\n\r\n".to_owned(),
        ok("[3]"),
    ]
    .concat();
    let talk = |split: usize| {
        let talk = Talk::new().opens().asks(asked.concat());
        let talk = talk.answers(&answers[..split]).answers(&answers[split..]);
        talk.closes().imported()
    };
    insta::assert_snapshot!(text(&talk(100)));
    let usual = talk(100);
    for split in 1..answers.len() {
        let imported = talk(split);
        assert_eq!(told(&imported), told(&usual), "{split}");
        for exchange in &imported.session.exchanges {
            let Content::Whole { raw, .. } = &exchange.answer().unwrap().content else {
                panic!("a stream")
            };
            assert_eq!(*raw, None, "{split}");
        }
    }
}

#[test]
fn interim_answers_belong_to_the_one_that_counts() {
    let talk = Talk::new().opens();
    let talk = talk.asks("PUT /job HTTP/1.1\r\nContent-Length: 4\r\nExpect: 100-continue\r\n\r\n");
    let talk = talk.answers("HTTP/1.1 100 Continue\r\n\r\n").asks("{");
    let talk = talk.asks(" 1}").answers(ok("{}")).closes();
    insta::assert_snapshot!(text(&talk.imported()));
}

#[test]
fn a_request_in_chunks_is_put_together() {
    let talk = Talk::new().opens();
    let talk = talk.asks("PUT /job HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{");
    let talk = talk.asks("}\r\n0\r\n\r\n").answers(ok("{}")).closes();
    insta::assert_snapshot!(told(&talk.imported()).join("\n"));
}

#[test]
fn a_request_that_is_answered_before_it_is_whole_is_there() {
    let talk = || {
        let talk = Talk::new().opens();
        talk.asks("PUT /job HTTP/1.1\r\nContent-Length: 100\r\n\r\n{")
    };
    let answer = "HTTP/1.1 413 Content Too Large\r\nContent-Length: 0\r\n\r\n";
    let answered = talk().answers(answer).ends(true).ends(false).imported();
    let reset = talk()
        .asks("\"")
        .answers(&answer[..9])
        .resets(true)
        .imported();
    insta::assert_snapshot!(format!("{}\n{}", text(&answered), text(&reset)));
    // Without an answer, nobody knows what it would have been.
    let before = Talk::new().opens().asks(GET).answers(ok("{}"));
    let before = before.asks("PUT /job HTTP/1.1\r\nContent-Length: 100\r\n\r\n{");
    let imported = before.imported();
    assert_eq!(told(&imported).len(), 1);
    assert_eq!(
        left_out(&imported),
        ["1 request with 192.0.2.1:80: never whole"]
    );
}

#[test]
fn events_have_the_time_of_the_packet_that_completed_each() {
    let talk = Talk::new().opens();
    let talk = talk.asks("GET /printer/events HTTP/1.1\r\nAccept: text/event-stream\r\n\r\n");
    let talk = talk.answers(
        "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nTransfer-Encoding: chunked\r\n\r\n",
    );
    let talk = talk
        .waits(1_000_000)
        .answers("10\r\ndata: {\"job\":1}\n\r\n");
    let talk = talk.waits(1_000_000).answers("1\r\n\n\r\n");
    let talk = talk
        .waits(1_000_000)
        .answers("14\r\ndata: 2\n\ndata: 3\n\n:\n\r\n");
    let talk = talk.waits(1_000_000).ends(false).ends(true);
    insta::assert_snapshot!(text(&talk.imported()));
}

const UPGRADE: &str = "GET /printer/socket HTTP/1.1\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\
    Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n";

fn switched(fields: &str) -> String {
    format!("HTTP/1.1 101 Switching Protocols\r\nConnection: Upgrade\r\n{fields}\r\n")
}

/// The masked "Hello" of RFC 6455 section 5.7.
const HELLO: [u8; 11] = [
    0x81, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f, 0x9f, 0x4d, 0x51, 0x58,
];

#[test]
fn frames_of_a_websocket_are_those_of_both_sides() {
    let talk = Talk::new().opens().asks(UPGRADE);
    let first = host_frame(FrameKind::Text, b"{\"job\":null}");
    let begun = [switched("Upgrade: websocket\r\n").into_bytes(), first].concat();
    let talk = talk.answers(begun).asks(&HELLO[..5]).asks(&HELLO[5..]);
    let talk = talk.answers(host_frame(FrameKind::Ping, b"1"));
    let talk = talk.answers(host_frame(FrameKind::Close, &[3, 232]));
    let talk = talk.ends(true);
    // Its answer to that comes when nobody listens any more.
    let talk = talk.asks([0x88, 0x80, 0, 0, 0, 0]).ends(false);
    let imported = talk.imported();
    insta::assert_snapshot!(text(&imported));
    // Also if the capture has the frame of the watcher before the host's answer.
    let early = talk.with(|sent| {
        sent.swap(4, 5);
        sent.swap(5, 6);
    });
    assert_eq!(told(&early.imported()), told(&imported));
    let frames = |imported: &Imported| {
        let lines = imported.session.text();
        lines.matches("\"from\":\"watcher\"").count()
    };
    assert_eq!(frames(&early.imported()), frames(&imported));
}

#[test]
fn frames_that_are_packed_or_of_another_protocol_are_left_out() {
    let packed = "Upgrade: websocket\r\nSec-WebSocket-Extensions: permessage-deflate\r\n";
    for fields in [packed, "Upgrade: own/1\r\n"] {
        let talk = Talk::new().opens().asks(UPGRADE).answers(switched(fields));
        let talk = talk.answers([0xc1, 2, 1, 2]).asks(HELLO).closes();
        let imported = talk.imported();
        assert_eq!(
            left_out(&imported),
            ["1 connection with 192.0.2.1:80: frames that are no plain WebSocket"]
        );
        let Content::Stream { pushed, .. } =
            &imported.session.exchanges[0].answer().unwrap().content
        else {
            panic!("no stream")
        };
        assert_eq!(*pushed, []);
    }
}

#[test]
fn a_refused_upgrade_goes_on_as_before() {
    let talk = Talk::new().opens().asks([UPGRADE, GET].concat());
    let talk = talk.answers([ok("[1]"), ok("[2]")].concat()).closes();
    insta::assert_snapshot!(told(&talk.imported()).join("\n"));
}

#[test]
fn an_answer_that_is_no_http_is_kept_and_told() {
    let talk = Talk::new().opens().asks(GET).answers(ok("{}"));
    let talk = talk.asks(GET).answers("half an answer\r\n\r\n").closes();
    insta::assert_snapshot!(text(&talk.imported()));
}

#[test]
fn what_nobody_asked_for_is_told() {
    let talk = Talk::new().opens().asks(GET).answers(ok("{}"));
    let talk = talk.answers("HTTP/1.1 408 Request Timeout\r\n\r\n");
    let imported = talk.ends(true).ends(false).imported();
    assert_eq!(told(&imported).len(), 1);
    assert_eq!(
        left_out(&imported),
        ["1 connection with 192.0.2.1:80: something that nobody had asked for"]
    );
}

#[test]
fn an_answer_that_the_capture_has_before_its_request_is_its_answer() {
    let talk = Talk::new().opens().asks(GET).answers(ok(STATUS)).closes();
    let swapped = talk.clone().with(|sent| sent.swap(3, 4));
    assert_eq!(told(&swapped.imported()), told(&talk.imported()));
}

#[test]
fn of_a_long_body_only_its_length_is_written() {
    let body = "x".repeat(50);
    let long = format!("PUT /job HTTP/1.1\r\nContent-Length: 50\r\n\r\n{body}");
    let talk = Talk::new().opens().asks(long).answers(ok(&body)).closes();
    let options = Options {
        max_body_bytes: 20,
        ..Options::default()
    };
    let imported = import(&talk.pcap(), &options).unwrap();
    insta::assert_snapshot!(text(&imported));
}
