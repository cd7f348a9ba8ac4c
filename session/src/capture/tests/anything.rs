//! Whatever comes: no bytes make it panic, and how segments came changes nothing.

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::Index;

use super::build::*;
use crate::SessionFile;
use crate::capture::{CaptureError, Options, import};
use crate::http::websocket::host_frame;
use crate::{FrameKind, Session};

/// Is an exchange as it is made up.
#[derive(Debug, Clone)]
struct Made {
    asked: String,
    answer: Vec<u8>,
    told: String,
}

fn made() -> impl Strategy<Value = Made> {
    let kinds = (0..5_u8, "/[a-z]{1,8}", "[ -~]{0,60}", 1..9_usize);
    kinds.prop_map(|(kind, target, body, size)| {
        let method = if kind == 4 { "HEAD" } else { "GET" };
        let (status, head, framed) = match kind {
            0 => (
                200,
                format!("Content-Length: {}\r\n", body.len()),
                body.clone(),
            ),
            1 => {
                let mut framed = String::new();
                for chunk in body.as_bytes().chunks(size) {
                    let chunk = std::str::from_utf8(chunk).unwrap();
                    framed.push_str(&format!("{:x}\r\n{chunk}\r\n", chunk.len()));
                }
                framed.push_str("0\r\n\r\n");
                (200, "Transfer-Encoding: chunked\r\n".to_owned(), framed)
            }
            2 => (204, String::new(), String::new()),
            3 => (304, "Content-Length: 9\r\n".to_owned(), String::new()),
            _ => (200, "Content-Length: 9\r\n".to_owned(), String::new()),
        };
        let content = if kind < 2 { &body[..] } else { "" };
        let body: crate::Body = content.into();
        Made {
            asked: format!("{method} {target} HTTP/1.1\r\nHost: printer.example\r\n\r\n"),
            answer: format!("HTTP/1.1 {status} Own\r\n{head}\r\n{framed}").into_bytes(),
            told: format!(
                "{method} {target} Text(\"\") → Some(({status}, [{body:?}])) Some(Complete)"
            ),
        }
    })
}

/// Sends bytes in segments that are cut at those places.
fn cut(mut talk: Talk, is_host: bool, bytes: &[u8], places: &[Index]) -> Talk {
    let mut places: Vec<usize> = places.iter().map(|at| at.index(bytes.len())).collect();
    places.extend([0, bytes.len()]);
    places.sort_unstable();
    for pair in places.windows(2) {
        let part = &bytes[pair[0]..pair[1]];
        talk = match is_host {
            true => talk.answers(part),
            false => talk.asks(part),
        };
    }
    talk
}

/// Sends segments again, and mixes those that are near each other. The handshake stays before them: it
/// takes a way there and back.
fn mixed(sent: Vec<Sent>, again: &[(Index, Index)], mixing: &[Index]) -> Vec<Sent> {
    /// No segment comes earlier than so many others before it.
    const WINDOW: usize = 6;
    let mut all = sent;
    let handshake: Vec<Sent> = all.drain(..3).collect();
    for (which, later) in again {
        let from = which.index(all.len());
        let copy = all[from].clone();
        let to = from + later.index(all.len() - from + 1);
        all.insert(to, copy);
    }
    for (at, by) in mixing.iter().enumerate() {
        let at = at % all.len();
        let with = at + by.index(WINDOW.min(all.len() - at));
        all.swap(at, with);
    }
    all.splice(..0, handshake);
    for (sent, at) in all.iter_mut().zip(0..) {
        sent.at_micros = at;
    }
    all
}

fn all_kinds() -> Vec<Sent> {
    let upgrade = "GET /s HTTP/1.1\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\r\n";
    let events = "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\ndata: 1\n\n";
    let chunked = "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n";
    let switched = "HTTP/1.1 101 Own\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\r\n";
    let one = Talk::new().opens().asks(GET).answers(ok(STATUS)).asks(GET);
    let one = one.answers(chunked).asks(upgrade).answers(switched);
    let one = one.answers(host_frame(FrameKind::Text, b"{}")).closes();
    let two = Talk::between("[2001:db8::10]:50000", "[2001:db8::1]:80").opens();
    let two = two.asks(GET).answers(events).resets(true);
    let put = "PUT /job HTTP/1.1\r\nContent-Length: 2\r\n\r\n{}";
    let three = Talk::between("192.0.2.10:50001", "192.0.2.1:80").opens();
    let three = three.asks([put, put].concat()).answers(ok("{}")).ends(true);
    [one.sent, two.sent, three.sent].concat()
}

/// What comes out is a session that can be written and read again, or an error that has a reason.
fn holds(file: &[u8]) -> Result<(), TestCaseError> {
    match import(file, &Options::default()) {
        Ok(imported) => {
            let read = SessionFile::read(&imported.session.text());
            let read = read.map_err(|error| TestCaseError::fail(format!("{error:?}")))?;
            prop_assert_eq!(read.session, imported.session);
        }
        Err(CaptureError::Lines(error)) => return Err(TestCaseError::fail(format!("{error:?}"))),
        Err(_) => {}
    }
    Ok(())
}

proptest! {
    #[test]
    fn however_segments_come_the_exchanges_are_the_same(
        exchanges in vec((made(), vec(any::<Index>(), 0..2), vec(any::<Index>(), 0..4)), 1..6),
        (asked, answered) in any::<(u32, u32)>(),
        again in vec(any::<(Index, Index)>(), 0..5),
        mixing in vec(any::<Index>(), 0..40),
    ) {
        let mut talk = Talk::new().numbered(asked, answered).opens();
        for (made, asked, answered) in &exchanges {
            talk = cut(talk, false, made.asked.as_bytes(), asked);
            talk = cut(talk, true, &made.answer, answered);
        }
        let sent = mixed(talk.closes().sent, &again, &mixing);
        let imported = import(&pcap(&sent), &Options::default()).unwrap();
        let expected: Vec<String> = exchanges.iter().map(|(made, ..)| made.told.clone()).collect();
        prop_assert_eq!(told(&imported), expected);
        prop_assert_eq!(&imported.left_out[..], &[]);
        prop_assert_eq!(imported.session.connections.len(), 1);
    }

    #[test]
    fn no_bytes_make_it_panic(bytes in vec(any::<u8>(), 0..300)) {
        holds(&bytes)?;
        for begin in [
            LITTLE.pcap(1, false, &[], 0),
            BIG.pcap(101, true, &[], 0),
            LITTLE.section(1, Some(9)),
            BIG.section(276, Some(0xff)),
        ] {
            holds(&[begin, bytes.clone()].concat())?;
        }
    }

    #[test]
    fn no_packet_makes_it_panic(
        packets in vec((any::<u32>(), vec(any::<u8>(), 0..80)), 0..9),
        link in prop::sample::select(vec![0_u32, 1, 12, 101, 108, 113, 228, 229, 276]),
    ) {
        let packets: Vec<(u64, Vec<u8>)> = packets
            .into_iter()
            .map(|(at, packet)| (u64::from(at), packet))
            .collect();
        holds(&LITTLE.pcap(link, false, &packets, usize::MAX))?;
    }

    #[test]
    fn a_capture_with_bytes_changed_makes_it_not_panic(
        changes in vec((any::<Index>(), any::<u8>()), 1..30),
        is_ng in any::<bool>(),
    ) {
        let mut file = pcap(&all_kinds());
        if is_ng {
            file = LITTLE.section(1, None);
            for sent in all_kinds() {
                LITTLE.packet(&mut file, BEGAN * 1_000_000 + sent.at_micros, &ethernet(&sent));
            }
        }
        for (at, byte) in changes {
            let at = at.index(file.len());
            file[at] = byte;
        }
        holds(&file)?;
    }

    #[test]
    fn segments_in_any_order_with_any_flags_make_a_session(
        order in vec((any::<Index>(), 0..32_u8, -3..3_i8), 0..60),
    ) {
        let all = all_kinds();
        let sent: Vec<Sent> = order
            .iter()
            .zip(0..)
            .map(|((which, flags, by), at)| {
                let mut sent = all[which.index(all.len())].clone();
                sent.at_micros = at * 300_000;
                sent.syn ^= flags & 15 == 1;
                sent.fin ^= flags & 15 == 2;
                sent.rst ^= flags & 15 == 3;
                sent.number = sent.number.wrapping_add_signed(i32::from(*by));
                sent
            })
            .collect();
        holds(&pcap(&sent))?;
    }
}

#[test]
fn all_kinds_are_read_if_nothing_is_changed() {
    let imported = import(&pcap(&all_kinds()), &Options::default()).unwrap();
    let Session { exchanges, .. } = &imported.session;
    assert_eq!(exchanges.len(), 5);
}
