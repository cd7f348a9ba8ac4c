//! What goes out of the bytes of an answer under a script.

use bytes::Bytes;
use proptest::prelude::*;

use crate::fault::{Act, AnswerBytes, Cut, Ending, Position, Script};

const HEAD: &str = "HTTP/1.1 200 OK\r\nContent-Type: text/plain\r\nContent-Length: 12\r\n\r\n";
const BODY: &str = "temperatures";
const CHUNKED_HEAD: &str = "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n";
const CHUNKS: &str = "5\r\nfirst\r\n3;note\r\nand\r\n0\r\n\r\n";

/// Feeds an answer in pieces of a size and gives what goes out, how it ends, and what was left.
fn run(script: Script, answer: &str, size: usize) -> (String, Option<Ending>, String) {
    let mut machine = AnswerBytes::new(script, false);
    let (mut sent, mut ending) = (Vec::new(), None);
    let mut left = answer.as_bytes();
    loop {
        while let Some(act) = machine.next_act() {
            match act {
                Act::Send(bytes) => sent.extend_from_slice(&bytes),
                Act::End(end) => ending = Some(end),
            }
        }
        if left.is_empty() || machine.is_done() {
            break;
        }
        let taken = machine.feed(&left[..size.min(left.len())]);
        left = &left[taken..];
    }
    let left = String::from_utf8(left.to_vec()).unwrap();
    (String::from_utf8(sent).unwrap(), ending, left)
}

fn cut(at: Position, ending: Ending) -> Script {
    Script {
        cut: Some(Cut::At(at, ending)),
        ..Script::default()
    }
}

fn answer() -> String {
    format!("{HEAD}{BODY}")
}

fn chunked() -> String {
    format!("{CHUNKED_HEAD}{CHUNKS}")
}

#[test]
fn without_a_script_everything_passes_and_the_next_answer_is_left() {
    for one in [answer(), chunked()] {
        let two = format!("{one}{one}");
        let (sent, ending, left) = run(Script::default(), &two, 1000);
        assert_eq!((sent, ending, left), (one.clone(), None, one));
    }
}

#[test]
fn a_cut_is_at_its_byte() {
    let whole = answer();
    let head = HEAD.len();
    for (position, count) in [
        (Position::Start, 0),
        (Position::Byte(1), 1),
        (Position::Byte(20), 20),
        (Position::HeadEnd, head),
        (Position::BodyByte(0), head),
        (Position::BodyByte(5), head + 5),
        (Position::Byte(whole.len() as u64 - 1), whole.len() - 1),
    ] {
        let (sent, ending, _) = run(cut(position, Ending::Reset), &whole, 7);
        assert_eq!(sent, whole[..count], "{position}");
        assert_eq!(ending, Some(Ending::Reset), "{position}");
    }
}

#[test]
fn an_answer_that_is_over_by_then_passes_whole() {
    let whole = answer();
    for position in [
        Position::Byte(whole.len() as u64),
        Position::BodyByte(12),
        Position::BodyByte(1000),
    ] {
        let (sent, ending, _) = run(cut(position, Ending::Close), &whole, 9);
        assert_eq!(
            (sent.as_str(), ending),
            (whole.as_str(), None),
            "{position}"
        );
    }
}

#[test]
fn the_last_chunk_is_left_out_and_only_that() {
    let script = Script {
        cut: Some(Cut::NoLastChunk),
        ..Script::default()
    };
    let (sent, ending, _) = run(script, &chunked(), 1);
    assert_eq!(
        sent,
        format!("{CHUNKED_HEAD}5\r\nfirst\r\n3;note\r\nand\r\n")
    );
    assert_eq!(ending, Some(Ending::Close));
}

#[test]
fn a_zero_within_a_chunk_is_no_last_chunk() {
    let tricky = format!("{CHUNKED_HEAD}7\r\n0\r\n\r\n0\n\r\n0\r\n\r\n");
    let script = Script {
        cut: Some(Cut::NoLastChunk),
        ..Script::default()
    };
    let (sent, ..) = run(script, &tricky, 1000);
    assert_eq!(sent, format!("{CHUNKED_HEAD}7\r\n0\r\n\r\n0\n\r\n"));
}

#[test]
fn something_else_comes_instead() {
    let script = Script {
        cut: Some(Cut::Instead(Bytes::from_static(b"> "))),
        ..Script::default()
    };
    let (sent, ending, _) = run(script, &answer(), 1000);
    assert_eq!((sent.as_str(), ending), ("> ", Some(Ending::Close)));
}

#[test]
fn interim_answers_come_first_and_the_rest_behind() {
    let script = Script {
        interim: vec![102, 103, 199],
        twice: true,
        trailing: Some(Bytes::from_static(b"!")),
        huge_header: Some(3),
        length_by: Some(-2),
        ..Script::default()
    };
    let (sent, ending, _) = run(script, &answer(), 1000);
    let edited = "HTTP/1.1 200 OK\r\nFiller: aaa\r\nContent-Type: text/plain\r\nContent-Length: 10\r\n\r\ntemperatures";
    let interim = "HTTP/1.1 102 Processing\r\n\r\nHTTP/1.1 103 Early Hints\r\n\r\nHTTP/1.1 199 Interim\r\n\r\n";
    assert_eq!(sent, format!("{interim}{edited}{edited}!"));
    assert_eq!(ending, None);
}

#[test]
fn an_answer_without_a_body_ends_with_its_head() {
    for status in ["204 No Content", "304 Not Modified"] {
        let one = format!("HTTP/1.1 {status}\r\nContent-Length: 12\r\n\r\n");
        let two = format!("{one}HTTP/1.1 200 OK\r\n");
        let (sent, _, left) = run(Script::default(), &two, 1000);
        assert_eq!(sent, one);
        assert_eq!(left, "HTTP/1.1 200 OK\r\n");
    }
}

#[test]
fn an_answer_until_the_end_of_its_connection_is_over_when_that_is_said() {
    let mut machine = AnswerBytes::new(
        Script {
            twice: true,
            ..Script::default()
        },
        false,
    );
    machine.feed(b"HTTP/1.0 200 OK\r\n\r\nhot");
    assert!(!machine.is_done());
    machine.closes();
    let Some(Act::Send(sent)) = machine.next_act() else {
        panic!("nothing is sent");
    };
    assert_eq!(
        &sent[..],
        b"HTTP/1.0 200 OK\r\n\r\nhotHTTP/1.0 200 OK\r\n\r\nhot"
    );
    assert!(machine.is_done());
}

#[test]
fn a_script_may_change_under_way() {
    let mut machine = AnswerBytes::new(Script::default(), false);
    machine.feed(CHUNKED_HEAD.as_bytes());
    machine.feed(b"5\r\nfirst\r\n");
    machine.set_script(cut(Position::BodyByte(12), Ending::Stall));
    machine.feed(b"3\r\nand\r\n");
    let Some(Act::Send(sent)) = machine.next_act() else {
        panic!("nothing is sent");
    };
    assert_eq!(sent.len(), CHUNKED_HEAD.len() + 12);
    assert_eq!(machine.next_act(), Some(Act::End(Ending::Stall)));
}

fn any_script() -> impl Strategy<Value = Script> {
    let position = prop_oneof![
        Just(Position::Start),
        (0_u64..120).prop_map(Position::Byte),
        Just(Position::HeadEnd),
        (0_u64..60).prop_map(Position::BodyByte),
    ];
    let ending = prop_oneof![
        Just(Ending::Reset),
        Just(Ending::Close),
        Just(Ending::Stall)
    ];
    let cut = prop_oneof![
        Just(None),
        (position, ending).prop_map(|(at, ending)| Some(Cut::At(at, ending))),
        Just(Some(Cut::NoLastChunk)),
        Just(Some(Cut::Instead(Bytes::from_static(b"no HTTP")))),
    ];
    (
        proptest::collection::vec(102_u16..200, 0..3),
        proptest::option::of(1_u32..50),
        proptest::option::of(-20_i32..20),
        cut,
        any::<bool>(),
        proptest::option::of(Just(Bytes::from_static(b"more"))),
    )
        .prop_map(
            |(interim, huge_header, length_by, cut, twice, trailing)| Script {
                interim,
                huge_header,
                length_by,
                cut,
                twice,
                trailing,
                ..Script::default()
            },
        )
}

proptest! {
    #[test]
    fn the_pieces_in_which_an_answer_comes_make_no_difference(
        script in any_script(),
        is_chunked: bool,
        size in 1_usize..50,
    ) {
        let answer = if is_chunked { chunked() } else { answer() };
        let at_once = run(script.clone(), &answer, answer.len());
        prop_assert_eq!(run(script, &answer, size), at_once);
    }

    #[test]
    fn a_cut_never_lets_more_pass_and_never_less(at in 0_u64..200) {
        let whole = answer();
        let (sent, ending, _) = run(cut(Position::Byte(at), Ending::Reset), &whole, 13);
        let passed = whole.len().min(usize::try_from(at).unwrap());
        prop_assert_eq!(sent.len(), passed);
        prop_assert_eq!(ending.is_some(), passed < whole.len());
    }
}
