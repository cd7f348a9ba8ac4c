//! A packet capture.

use coldbed_session::capture::{CaptureError, Options, import};

/// Reads a capture. What is read is a session that can be written and read again; what is not says so,
/// and never because the lines made of it do not fit together.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    match import(bytes, &Options::default()) {
        Ok(imported) => super::assert_read_again(&imported.session),
        Err(CaptureError::Lines(error)) => panic!("{error}"),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

/// Gives a capture of one exchange and a pushed event, without a link layer.
pub fn seeds() -> Vec<Vec<u8>> {
    const GET: &[u8] = b"GET /printer HTTP/1.1\r\nHost: printer.example\r\n\r\n";
    const OK: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{}";
    const EVENTS: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\ndata: 1\n\n";
    const FIN: u8 = 1;
    const SYN: u8 = 2;
    const RST: u8 = 4;
    const ACK: u8 = 16;
    let talk = |answer: &[u8], last: u8| {
        let mut file = Vec::new();
        // Magic number, version 2.4, zone, accuracy, longest packet, link type 101: the header of a
        // classic capture (draft-ietf-opsawg-pcap, section 4, from memory).
        for word in [0xa1b2_c3d4_u32, 4 << 16 | 2, 0, 0, 65535, 101] {
            file.extend(word.to_le_bytes());
        }
        let (asked, answered) = (1 + length(GET), 1 + length(answer));
        packet(&mut file, 0, false, (0, 0), SYN, b"");
        packet(&mut file, 1, true, (0, 1), SYN | ACK, b"");
        packet(&mut file, 2, false, (1, 1), ACK, b"");
        packet(&mut file, 3, false, (1, 1), ACK, GET);
        packet(&mut file, 4, true, (1, asked), ACK, answer);
        packet(&mut file, 5, false, (asked, answered), last | ACK, b"");
        file
    };
    vec![talk(OK, FIN), talk(EVENTS, RST)]
}

fn length(bytes: &[u8]) -> u32 {
    u32::try_from(bytes.len()).expect("a seed is short")
}

/// Writes one packet: its record, an IPv4 header (RFC 791 section 3.1), a TCP header (RFC 9293 section
/// 3.1), and what it carries. Sums are left out, as by a card that makes them itself.
fn packet(
    file: &mut Vec<u8>,
    at_s: u32,
    is_host: bool,
    (number, expects): (u32, u32),
    flags: u8,
    payload: &[u8],
) {
    let all = 40 + length(payload);
    for word in [at_s, 0, all, all] {
        file.extend(word.to_le_bytes());
    }
    let total = u16::try_from(all).expect("a seed is short").to_be_bytes();
    let (watcher, host) = ([192, 0, 2, 10], [192, 0, 2, 1]);
    let (from, to) = match is_host {
        true => (host, watcher),
        false => (watcher, host),
    };
    file.extend([0x45, 0, total[0], total[1], 0, 0, 0, 0, 64, 6, 0, 0]);
    file.extend([from, to].concat());
    let (watcher, host) = (50_000_u16.to_be_bytes(), 80_u16.to_be_bytes());
    let ports = match is_host {
        true => [host, watcher],
        false => [watcher, host],
    };
    file.extend(ports.concat());
    file.extend(number.to_be_bytes());
    file.extend(expects.to_be_bytes());
    file.extend([5 << 4, flags, 0xff, 0xff, 0, 0, 0, 0]);
    file.extend(payload);
}
