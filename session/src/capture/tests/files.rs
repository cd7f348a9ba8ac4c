//! File formats, link types and packets.

use super::build::*;
use crate::capture::{CaptureError, Options, Reason, import, is_capture};

fn talk() -> Talk {
    Talk::new().opens().asks(GET).answers(ok(STATUS)).closes()
}

fn talk_6() -> Talk {
    Talk::between("[2001:db8::10]:50000", "[2001:db8::1]:8080")
        .opens()
        .asks(GET)
        .answers(ok(STATUS))
        .closes()
}

fn text(file: &[u8]) -> String {
    let imported = import(file, &Options::default()).unwrap();
    assert_eq!(imported.left_out, []);
    imported.session.text()
}

#[test]
fn a_capture_makes_the_lines_of_a_session() {
    insta::assert_snapshot!(text(&talk().pcap()));
}

#[test]
fn all_link_types_tell_the_same() {
    for talk in [talk(), talk_6()] {
        let usual = text(&talk.pcap());
        let file =
            |link, packets: &[(u64, Vec<u8>)]| text(&LITTLE.pcap(link, false, packets, usize::MAX));
        let sent = &talk.sent;
        assert_eq!(file(1, &packets(sent, vlan)), usual, "VLAN");
        for raw in [12, 14, 101, if talk.host.is_ipv4() { 228 } else { 229 }] {
            assert_eq!(file(raw, &packets(sent, ip)), usual, "raw IP {raw}");
        }
        assert_eq!(file(113, &packets(sent, cooked)), usual, "Linux cooked");
        assert_eq!(file(276, &packets(sent, cooked_2)), usual, "Linux cooked 2");
        for is_big_endian in [true, false] {
            let packets = packets(sent, |sent| loopback(sent, is_big_endian));
            assert_eq!(file(0, &packets), usual, "BSD loopback");
            assert_eq!(file(108, &packets), usual, "BSD loopback");
        }
    }
}

#[test]
fn both_orders_of_bytes_and_both_units_of_time_tell_the_same() {
    let (usual, packets) = (text(&talk().pcap()), packets(&talk().sent, ethernet));
    for writer in [LITTLE, BIG] {
        for is_nano in [true, false] {
            let file = writer.pcap(1, is_nano, &packets, usize::MAX);
            assert!(is_capture(&file));
            assert_eq!(text(&file), usual, "{writer:?} {is_nano}");
        }
    }
}

/// draft-ietf-opsawg-pcapng section 4.2, `if_tsresol`: without it µs, else a power of ten, or of two where
/// the highest bit is set.
#[test]
fn pcapng_tells_the_same_in_every_resolution_of_time() {
    let (usual, packets) = (text(&talk().pcap()), packets(&talk().sent, ethernet));
    for writer in [LITTLE, BIG] {
        for (resolution, units) in [
            (None, 1_000_000_u128),
            (Some(6), 1_000_000),
            (Some(9), 1_000_000_000),
            (Some(0x80 | 30), 1 << 30),
        ] {
            let mut file = writer.section(1, resolution);
            // Names of hosts, and another kind that nobody knows.
            writer.block(&mut file, 4, &[0; 4]);
            writer.block(&mut file, 0x0bad, &[1, 2, 3]);
            for (at_micros, packet) in &packets {
                let micros = u128::from(BEGAN * 1_000_000 + at_micros);
                // Up, so that a unit that is no part of a µs does not take one away.
                let at = (micros * units).div_ceil(1_000_000);
                writer.packet(&mut file, u64::try_from(at).unwrap(), packet);
            }
            assert!(is_capture(&file));
            assert_eq!(text(&file), usual, "{writer:?} {resolution:?}");
        }
    }
}

#[test]
fn sections_of_pcapng_have_their_own_interfaces_and_order_of_bytes() {
    let sent = talk().sent;
    let (first, second) = sent.split_at(4);
    let mut file = LITTLE.section(1, Some(9));
    for sent in first {
        let at = BEGAN * 1_000_000_000 + sent.at_micros * 1000;
        LITTLE.packet(&mut file, at, &ethernet(sent));
    }
    file.extend(BIG.section(101, None));
    for sent in second {
        BIG.packet(&mut file, BEGAN * 1_000_000 + sent.at_micros, &ip(sent));
    }
    assert_eq!(text(&file), text(&talk().pcap()));
}

#[test]
fn packets_without_a_time_are_at_the_time_of_the_one_before() {
    let mut file = LITTLE.section(1, None);
    for (index, sent) in talk().sent.iter().enumerate() {
        let packet = ethernet(sent);
        if index == 0 {
            LITTLE.packet(&mut file, BEGAN * 1_000_000, &packet);
            continue;
        }
        let mut simple = Vec::new();
        LITTLE.u32(&mut simple, u32::try_from(packet.len()).unwrap());
        simple.extend(packet);
        LITTLE.block(&mut file, 3, &simple);
    }
    let imported = import(&file, &Options::default()).unwrap();
    assert_eq!(told(&imported), told(&talk().imported()));
    assert!(imported.session.length().is_zero());
    assert_eq!(
        imported.session.recorded_at.as_deref(),
        Some("2026-11-24T21:00:05Z")
    );
}

#[test]
fn a_clock_that_is_set_back_stands_still() {
    let talk = talk().with(|sent| {
        for late in &mut sent[4..] {
            late.at_micros = 0;
        }
    });
    let imported = talk.imported();
    assert_eq!(imported.session.length().as_micros(), u128::from(3 * STEP));
}

#[test]
fn a_file_that_ends_in_a_packet_has_all_before_it() {
    let file = talk().pcap();
    let imported = import(&file[..file.len() - 10], &Options::default()).unwrap();
    assert_eq!(told(&imported), told(&talk().imported()));
    let [left_out] = &imported.left_out[..] else {
        panic!("{:?}", imported.left_out);
    };
    // The last packet, filled up to 60 bytes, and its header of 16.
    assert_eq!((left_out.reason, left_out.count), (Reason::DamagedFile, 66));
}

#[test]
fn what_is_no_capture_or_has_no_exchange_is_told() {
    let refused = |file: &[u8]| {
        let error = import(file, &Options::default()).unwrap_err();
        error.to_string()
    };
    let tls = Talk::between("192.0.2.10:50001", "192.0.2.1:443")
        .opens()
        .asks([0x16, 3, 1, 0, 5, 1, 0, 0, 1, 0])
        .answers([0x16, 3, 3, 0, 1, 2])
        .closes();
    let shell = Talk::between("192.0.2.10:50002", "192.0.2.1:22")
        .opens()
        .answers("SSH-2.0-own\r\n")
        .asks("SSH-2.0-own\r\n")
        .closes();
    let both = [tls.sent, shell.sent].concat();
    let foreign = LITTLE.pcap(147, false, &packets(&talk().sent, ethernet), usize::MAX);
    let all = [
        refused(b"{\"log\":{}}"),
        refused(b""),
        refused(&LITTLE.pcap(1, false, &[], 0)),
        refused(&pcap(&both)),
        refused(&foreign),
    ];
    insta::assert_snapshot!(all.join("\n"));
}

#[test]
fn packets_that_were_cut_end_the_answer_where_the_capture_does() {
    let body = "x".repeat(500);
    let talk = Talk::new().opens().asks(GET).answers(ok(&body)).closes();
    for link in [
        (1, packets(&talk.sent, ethernet)),
        (101, packets(&talk.sent, ip)),
    ] {
        let file = LITTLE.pcap(link.0, false, &link.1, 200);
        let imported = import(&file, &Options::default()).unwrap();
        insta::assert_snapshot!(
            format!("cut_in_link_type_{}", link.0),
            format!("{}{:#?}", imported.session.text(), left_out(&imported))
        );
    }
}

#[test]
fn packets_without_a_length_as_a_card_that_cuts_them_leaves_them_are_whole() {
    let mut packets = packets(&talk().sent, ip);
    for (_, packet) in &mut packets {
        packet[2..4].fill(0);
    }
    let file = LITTLE.pcap(101, false, &packets, usize::MAX);
    assert_eq!(text(&file), text(&talk().pcap()));
}

/// The formats' drafts: section 4 of pcap's, section 4.1 of pcapng's.
#[test]
fn a_capture_is_known_by_its_first_four_bytes() {
    let known = [
        [0xa1, 0xb2, 0xc3, 0xd4],
        [0xd4, 0xc3, 0xb2, 0xa1],
        [0xa1, 0xb2, 0x3c, 0x4d],
        [0x4d, 0x3c, 0xb2, 0xa1],
        [0x0a, 0x0d, 0x0d, 0x0a],
    ];
    for magic in known {
        assert!(is_capture(&magic));
        assert!(!is_capture(&magic[..3]));
        let error = import(&magic, &Options::default()).unwrap_err();
        assert!(matches!(error, CaptureError::Form));
    }
    assert!(!is_capture(b"{\"log\":{}}"));
}

#[test]
fn fragments_are_told_and_not_put_together() {
    let mut packets = packets(&talk().sent, ip);
    // More fragments follow (RFC 791 section 3.1).
    packets[4].1[6] |= 0x20;
    let file = LITTLE.pcap(101, false, &packets, usize::MAX);
    let imported = import(&file, &Options::default()).unwrap();
    insta::assert_snapshot!(format!(
        "{:#?}\n{:#?}",
        told(&imported),
        left_out(&imported)
    ));
    // The same in IPv6: a header for it (RFC 8200 section 4.5), the bit of more to follow set.
    let mut packets = self::packets(&talk_6().sent, ip);
    let packet = &mut packets[4].1;
    packet[6] = 44;
    packet[5] += 8;
    packet.splice(40..40, [6, 0, 0, 1, 0, 0, 0, 1]);
    let file = LITTLE.pcap(101, false, &packets, usize::MAX);
    let imported = import(&file, &Options::default()).unwrap();
    assert!(left_out(&imported).contains(&"1 packet: a fragment".to_owned()));
}

#[test]
fn too_much_is_refused() {
    let options = Options {
        max_stream_bytes: 100,
        ..Options::default()
    };
    let error = import(&talk().pcap(), &options).unwrap_err();
    assert!(matches!(error, CaptureError::TooMuch { limit_bytes: 100 }));
    // What is not taken does not count.
    let options = Options {
        port: Some(81),
        ..options
    };
    let error = import(&talk().pcap(), &options).unwrap_err();
    assert!(matches!(error, CaptureError::NoExchange { .. }));
}
