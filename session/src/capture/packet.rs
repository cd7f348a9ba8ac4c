//! From a packet to the TCP segment in it.

use std::net::{IpAddr, SocketAddr};

use etherparse::{EtherType, LaxNetSlice, LaxSlicedPacket, LenSource, TransportSlice, ip_number};

use super::file::Packet;
use super::left_out::Reason;

/// Is a TCP segment (RFC 9293 section 3.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Segment<'a> {
    pub(super) from: SocketAddr,
    pub(super) to: SocketAddr,
    /// The number of its first byte, or of its SYN.
    pub(super) number: u32,
    /// The number that its sender expects next of the other side.
    pub(super) expects: Option<u32>,
    pub(super) is_syn: bool,
    pub(super) is_fin: bool,
    pub(super) is_rst: bool,
    pub(super) payload: &'a [u8],
    /// How many bytes of the payload were not captured.
    pub(super) missing: u32,
}

/// Is what a packet is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Found<'a> {
    /// A TCP segment.
    Segment(Segment<'a>),
    /// TCP that cannot be read, between these addresses if they are known.
    Unreadable(Reason, Option<(IpAddr, IpAddr)>),
    /// Something else.
    Other,
}

/// Numbers of link types: draft-ietf-opsawg-pcaplinktype.
const NULL: u32 = 0;
const ETHERNET: u32 = 1;
const RAW: u32 = 101;
/// What the number above is called on some systems; tools that copy it into the file leave it there.
const RAW_OF_SYSTEMS: [u32; 2] = [12, 14];
const LOOP: u32 = 108;
const LINUX_COOKED: u32 = 113;
const IPV4: u32 = 228;
const IPV6: u32 = 229;
const LINUX_COOKED_2: u32 = 276;

/// Reads a packet.
pub(super) fn found<'a>(packet: &Packet<'a>) -> Found<'a> {
    let bytes = packet.bytes;
    let sliced = match packet.link {
        ETHERNET => LaxSlicedPacket::from_ethernet(bytes).ok(),
        // After the address family, which the IP header says, too.
        NULL | LOOP => bytes.get(4..).and_then(ip),
        RAW | IPV4 | IPV6 => ip(bytes),
        link if RAW_OF_SYSTEMS.contains(&link) => ip(bytes),
        LINUX_COOKED => typed(bytes, 14, 16),
        LINUX_COOKED_2 => typed(bytes, 0, 20),
        other => return Found::Unreadable(Reason::LinkType(other), None),
    };
    match sliced {
        Some(sliced) => segment(&sliced, packet),
        None => Found::Other,
    }
}

fn ip(bytes: &[u8]) -> Option<LaxSlicedPacket<'_>> {
    LaxSlicedPacket::from_ip(bytes).ok()
}

/// Reads a packet with its Ethernet type and payload at those places.
fn typed(bytes: &[u8], type_at: usize, payload_at: usize) -> Option<LaxSlicedPacket<'_>> {
    let kind = *bytes.get(type_at..)?.first_chunk::<2>()?;
    let payload = bytes.get(payload_at..)?;
    let kind = EtherType(u16::from_be_bytes(kind));
    Some(LaxSlicedPacket::from_ether_type(kind, payload))
}

fn segment<'a>(sliced: &LaxSlicedPacket<'a>, packet: &Packet<'a>) -> Found<'a> {
    // What the header says that there is behind it, extensions included.
    let (from, to, said, extensions, payload) = match &sliced.net {
        Some(LaxNetSlice::Ipv4(ip)) => {
            let header = ip.header();
            let own = header.slice().len();
            (
                IpAddr::from(header.source_addr()),
                IpAddr::from(header.destination_addr()),
                usize::from(header.total_len()).saturating_sub(own),
                ip.extensions().auth.map_or(0, |auth| auth.slice().len()),
                ip.payload(),
            )
        }
        Some(LaxNetSlice::Ipv6(ip)) => {
            let header = ip.header();
            (
                IpAddr::from(header.source_addr()),
                IpAddr::from(header.destination_addr()),
                usize::from(header.payload_length()),
                ip.extensions().slice().len(),
                ip.payload(),
            )
        }
        _ => return Found::Other,
    };
    if payload.ip_number != ip_number::TCP {
        return Found::Other;
    }
    let unreadable = |reason| Found::Unreadable(reason, Some((from, to)));
    if payload.fragmented {
        return unreadable(Reason::Fragment);
    }
    let Some(TransportSlice::Tcp(tcp)) = &sliced.transport else {
        return unreadable(Reason::CutPacket);
    };
    let missing = match (payload.incomplete, payload.len_source) {
        (true, _) => said.saturating_sub(extensions + payload.payload.len()),
        // A network card that cuts the packets itself gets them without a length.
        (false, LenSource::Slice) => usize::try_from(packet.missing).unwrap_or(usize::MAX),
        (false, _) => 0,
    };
    Found::Segment(Segment {
        from: SocketAddr::new(from, tcp.source_port()),
        to: SocketAddr::new(to, tcp.destination_port()),
        number: tcp.sequence_number(),
        expects: tcp.ack().then(|| tcp.acknowledgment_number()),
        is_syn: tcp.syn(),
        is_fin: tcp.fin(),
        is_rst: tcp.rst(),
        payload: tcp.payload(),
        missing: u32::try_from(missing).unwrap_or(u32::MAX),
    })
}
