//! Builds captures: what two sides send, the packets of it, and the file.

use std::net::{IpAddr, SocketAddr};

use etherparse::{
    IpHeaders, IpNumber, Ipv4Header, Ipv6FlowLabel, Ipv6Header, LinuxSllPacketType, PacketBuilder,
    TcpHeader, VlanId,
};

use crate::capture::{Imported, Options, import};

/// Is one segment on its way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sent {
    pub(super) at_micros: u64,
    pub(super) from: SocketAddr,
    pub(super) to: SocketAddr,
    pub(super) number: u32,
    pub(super) expects: Option<u32>,
    pub(super) syn: bool,
    pub(super) fin: bool,
    pub(super) rst: bool,
    pub(super) payload: Vec<u8>,
}

/// Is a connection under way: what each side sends next, and what was sent.
#[derive(Debug, Clone)]
pub(super) struct Talk {
    pub(super) watcher: SocketAddr,
    pub(super) host: SocketAddr,
    pub(super) asked: u32,
    pub(super) answered: u32,
    pub(super) at_micros: u64,
    pub(super) sent: Vec<Sent>,
}

/// Each packet comes so long after the one before, in µs.
pub(super) const STEP: u64 = 1_000;

impl Talk {
    pub(super) fn new() -> Self {
        Self::between("192.0.2.10:50000", "192.0.2.1:80")
    }

    pub(super) fn between(watcher: &str, host: &str) -> Self {
        Self {
            watcher: watcher.parse().unwrap(),
            host: host.parse().unwrap(),
            asked: 1_000,
            answered: 900_000,
            at_micros: 0,
            sent: Vec::new(),
        }
    }

    /// Begins both directions at those numbers.
    pub(super) fn numbered(self, asked: u32, answered: u32) -> Self {
        Self {
            asked,
            answered,
            ..self
        }
    }

    pub(super) fn at(self, at_micros: u64) -> Self {
        Self { at_micros, ..self }
    }

    pub(super) fn waits(mut self, micros: u64) -> Self {
        self.at_micros += micros;
        self
    }

    fn send(&mut self, is_host: bool, payload: &[u8]) -> &mut Sent {
        let (from, to, number, expects) = match is_host {
            true => (self.host, self.watcher, self.answered, self.asked),
            false => (self.watcher, self.host, self.asked, self.answered),
        };
        let own = match is_host {
            true => &mut self.answered,
            false => &mut self.asked,
        };
        *own = own.wrapping_add(u32::try_from(payload.len()).unwrap());
        self.sent.push(Sent {
            at_micros: self.at_micros,
            from,
            to,
            number,
            expects: Some(expects),
            syn: false,
            fin: false,
            rst: false,
            payload: payload.to_vec(),
        });
        self.at_micros += STEP;
        self.sent.last_mut().unwrap()
    }

    pub(super) fn opens(mut self) -> Self {
        let first = self.send(false, b"");
        first.syn = true;
        first.expects = None;
        self.asked = self.asked.wrapping_add(1);
        self.send(true, b"").syn = true;
        self.answered = self.answered.wrapping_add(1);
        self.send(false, b"");
        self
    }

    pub(super) fn asks(mut self, text: impl AsRef<[u8]>) -> Self {
        self.send(false, text.as_ref());
        self
    }

    pub(super) fn answers(mut self, text: impl AsRef<[u8]>) -> Self {
        self.send(true, text.as_ref());
        self
    }

    /// One side has said all.
    pub(super) fn ends(mut self, is_host: bool) -> Self {
        self.send(is_host, b"").fin = true;
        let own = match is_host {
            true => &mut self.answered,
            false => &mut self.asked,
        };
        *own = own.wrapping_add(1);
        self
    }

    pub(super) fn resets(mut self, is_host: bool) -> Self {
        self.send(is_host, b"").rst = true;
        self
    }

    /// Both sides end, the watcher first.
    pub(super) fn closes(self) -> Self {
        self.ends(false).ends(true)
    }

    /// Changes the order, or what there is.
    pub(super) fn with(mut self, change: impl FnOnce(&mut Vec<Sent>)) -> Self {
        change(&mut self.sent);
        self
    }

    pub(super) fn pcap(&self) -> Vec<u8> {
        pcap(&self.sent)
    }

    pub(super) fn imported(&self) -> Imported {
        import(&self.pcap(), &Options::default()).unwrap()
    }
}

/// Asks for the printer's status.
pub(super) const GET: &str = "GET /printer HTTP/1.1\r\nHost: 192.0.2.1\r\n\r\n";

/// Answers with a body.
pub(super) fn ok(body: &str) -> String {
    format!(
        "HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
}

/// An ordinary status.
pub(super) const STATUS: &str = r#"{"state":"processing","job":{"progress-percent":41.5}}"#;

fn tcp(sent: &Sent) -> TcpHeader {
    let mut header = TcpHeader::new(sent.from.port(), sent.to.port(), sent.number, 64_000);
    header.syn = sent.syn;
    header.fin = sent.fin;
    header.rst = sent.rst;
    header.ack = sent.expects.is_some();
    header.acknowledgment_number = sent.expects.unwrap_or_default();
    header
}

/// The headers of the network.
pub(super) fn network(sent: &Sent) -> IpHeaders {
    let length = u16::try_from(tcp(sent).header_len() + sent.payload.len()).unwrap();
    match (sent.from.ip(), sent.to.ip()) {
        (IpAddr::V4(from), IpAddr::V4(to)) => IpHeaders::Ipv4(
            Ipv4Header::new(length, 64, IpNumber::TCP, from.octets(), to.octets()).unwrap(),
            Default::default(),
        ),
        (IpAddr::V6(from), IpAddr::V6(to)) => IpHeaders::Ipv6(
            Ipv6Header {
                traffic_class: 0,
                flow_label: Ipv6FlowLabel::ZERO,
                payload_length: length,
                next_header: IpNumber::TCP,
                hop_limit: 64,
                source: from.octets(),
                destination: to.octets(),
            },
            Default::default(),
        ),
        _ => panic!("of one kind"),
    }
}

/// The packet from its IP header on.
pub(super) fn ip(sent: &Sent) -> Vec<u8> {
    let mut packet = Vec::new();
    let builder = PacketBuilder::ip(network(sent)).tcp_header(tcp(sent));
    builder.write_to_vec(&mut packet, &sent.payload).unwrap();
    packet
}

pub(super) fn ethernet(sent: &Sent) -> Vec<u8> {
    let mut packet = Vec::new();
    let builder = PacketBuilder::ethernet2([2, 0, 0, 0, 0, 1], [2, 0, 0, 0, 0, 2])
        .ip(network(sent))
        .tcp_header(tcp(sent));
    builder.write_to_vec(&mut packet, &sent.payload).unwrap();
    // RFC 894: what is shorter is filled up.
    packet.resize(packet.len().max(60), 0);
    packet
}

pub(super) fn vlan(sent: &Sent) -> Vec<u8> {
    let mut packet = Vec::new();
    let builder = PacketBuilder::ethernet2([2, 0, 0, 0, 0, 1], [2, 0, 0, 0, 0, 2])
        .single_vlan(VlanId::try_new(7).unwrap())
        .ip(network(sent))
        .tcp_header(tcp(sent));
    builder.write_to_vec(&mut packet, &sent.payload).unwrap();
    packet
}

pub(super) fn cooked(sent: &Sent) -> Vec<u8> {
    let mut packet = Vec::new();
    let builder =
        PacketBuilder::linux_sll(LinuxSllPacketType::OTHERHOST, 6, [2, 0, 0, 0, 0, 1, 0, 0])
            .ip(network(sent))
            .tcp_header(tcp(sent));
    builder.write_to_vec(&mut packet, &sent.payload).unwrap();
    packet
}

/// LINKTYPE_LINUX_SLL2: type, nothing, interface, kind of device, kind of packet, address.
pub(super) fn cooked_2(sent: &Sent) -> Vec<u8> {
    let kind: u16 = if sent.from.is_ipv4() { 0x0800 } else { 0x86dd };
    let mut packet = kind.to_be_bytes().to_vec();
    packet.extend([0, 0, 0, 0, 0, 2, 0, 1, 0, 6, 2, 0, 0, 0, 0, 1, 0, 0]);
    packet.extend(ip(sent));
    packet
}

/// LINKTYPE_NULL and LINKTYPE_LOOP: the family of addresses, in the order of the machine's bytes or in
/// that of the network.
pub(super) fn loopback(sent: &Sent, is_big_endian: bool) -> Vec<u8> {
    let family: u32 = if sent.from.is_ipv4() { 2 } else { 30 };
    let mut packet = match is_big_endian {
        true => family.to_be_bytes().to_vec(),
        false => family.to_le_bytes().to_vec(),
    };
    packet.extend(ip(sent));
    packet
}

/// When captures begin: 2026-11-24T21:00:05Z.
pub(super) const BEGAN: u64 = 1_795_554_005;

/// Writes numbers in one order of bytes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Writer {
    pub(super) is_big_endian: bool,
}

impl Writer {
    pub(super) fn u32(self, into: &mut Vec<u8>, number: u32) {
        into.extend(match self.is_big_endian {
            true => number.to_be_bytes(),
            false => number.to_le_bytes(),
        });
    }

    pub(super) fn u16(self, into: &mut Vec<u8>, number: u16) {
        into.extend(match self.is_big_endian {
            true => number.to_be_bytes(),
            false => number.to_le_bytes(),
        });
    }

    /// A file of pcap of packets, each with its time in µs and how much of it is kept.
    pub(super) fn pcap(
        self,
        link: u32,
        is_nano: bool,
        packets: &[(u64, Vec<u8>)],
        keeps: usize,
    ) -> Vec<u8> {
        let mut file = Vec::new();
        self.u32(&mut file, if is_nano { 0xa1b2_3c4d } else { 0xa1b2_c3d4 });
        self.u16(&mut file, 2);
        self.u16(&mut file, 4);
        for field in [0, 0, 0x4_0000, link] {
            self.u32(&mut file, field);
        }
        for (at_micros, packet) in packets {
            let kept = &packet[..packet.len().min(keeps)];
            let part = at_micros % 1_000_000 * if is_nano { 1000 } else { 1 };
            let seconds = BEGAN + at_micros / 1_000_000;
            for field in [seconds, part, kept.len() as u64, packet.len() as u64] {
                self.u32(&mut file, u32::try_from(field).unwrap());
            }
            file.extend(kept);
        }
        file
    }

    /// A block of pcapng.
    pub(super) fn block(self, into: &mut Vec<u8>, kind: u32, content: &[u8]) {
        let padded = content.len().next_multiple_of(4);
        let length = u32::try_from(12 + padded).unwrap();
        self.u32(into, kind);
        self.u32(into, length);
        into.extend(content);
        into.extend(vec![0; padded - content.len()]);
        self.u32(into, length);
    }

    /// The blocks of a section's beginning, with one interface; its resolution as the option has it.
    pub(super) fn section(self, link: u16, resolution: Option<u8>) -> Vec<u8> {
        let mut file = Vec::new();
        let mut header = Vec::new();
        self.u32(&mut header, 0x1a2b_3c4d);
        self.u16(&mut header, 1);
        self.u16(&mut header, 0);
        header.extend([0xff; 8]);
        self.block(&mut file, 0x0a0d_0d0a, &header);
        let mut interface = Vec::new();
        self.u16(&mut interface, link);
        self.u16(&mut interface, 0);
        self.u32(&mut interface, 0);
        if let Some(resolution) = resolution {
            self.u16(&mut interface, 9);
            self.u16(&mut interface, 1);
            interface.extend([resolution, 0, 0, 0]);
            self.u32(&mut interface, 0);
        }
        self.block(&mut file, 1, &interface);
        file
    }

    /// An enhanced packet block, its time in units of its interface.
    pub(super) fn packet(self, into: &mut Vec<u8>, units: u64, packet: &[u8]) {
        let mut content = Vec::new();
        let length = u64::try_from(packet.len()).unwrap();
        for field in [0, units >> 32, units & 0xffff_ffff, length, length] {
            self.u32(&mut content, u32::try_from(field).unwrap());
        }
        content.extend(packet);
        self.block(into, 6, &content);
    }
}

pub(super) const LITTLE: Writer = Writer {
    is_big_endian: false,
};
pub(super) const BIG: Writer = Writer {
    is_big_endian: true,
};

/// The packets of segments with their times.
pub(super) fn packets(sent: &[Sent], link: impl Fn(&Sent) -> Vec<u8>) -> Vec<(u64, Vec<u8>)> {
    let packets = sent.iter();
    packets.map(|sent| (sent.at_micros, link(sent))).collect()
}

/// A usual capture of segments.
pub(super) fn pcap(sent: &[Sent]) -> Vec<u8> {
    LITTLE.pcap(1, false, &packets(sent, ethernet), usize::MAX)
}

/// What of each exchange does not depend on when its bytes came.
pub(super) fn told(imported: &Imported) -> Vec<String> {
    let exchanges = imported.session.exchanges.iter();
    exchanges
        .map(|exchange| {
            let outcome = exchange.outcome.as_ref().unwrap();
            let body = |answer: &crate::Answer| match &answer.content {
                crate::Content::Whole { body, .. } => vec![body.clone()],
                crate::Content::Stream { pushed, .. } => pushed
                    .iter()
                    .filter_map(|(_, pushed)| match pushed {
                        crate::Pushed::Bytes(body) => Some(body.clone()),
                        crate::Pushed::Frame(_) => None,
                    })
                    .collect(),
            };
            let answer = exchange
                .answer()
                .map(|answer| (answer.status, body(answer)));
            let request = &exchange.request;
            format!(
                "{} {} {:?} → {answer:?} {:?}",
                request.method,
                request.target,
                request.body,
                outcome.end()
            )
        })
        .collect()
}

/// What is left out, in words.
pub(super) fn left_out(imported: &Imported) -> Vec<String> {
    let all = imported.left_out.iter();
    all.map(|left_out| left_out.to_string()).collect()
}
