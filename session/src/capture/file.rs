//! The packets of a file, pcap or pcapng.

use jiff::Timestamp;
use pcap_parser::traits::PcapNGPacketBlock;
use pcap_parser::{InterfaceDescriptionBlock, OptionCode, PcapHeader};

/// Is one packet as it was captured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Packet<'a> {
    /// When; `None` where the file does not say, or says what is no moment.
    pub(super) at: Option<Timestamp>,
    /// Its link type, by its registered number.
    pub(super) link: u32,
    /// What was captured of it.
    pub(super) bytes: &'a [u8],
    /// How many bytes more it had on the network.
    pub(super) missing: u32,
}

/// Gives the packets of a file one after the other.
#[derive(Debug)]
pub(super) struct Packets<'a> {
    rest: &'a [u8],
    kind: Kind,
    /// How many bytes could not be read.
    unread: u64,
}

#[derive(Debug)]
enum Kind {
    Pcap(PcapHeader),
    PcapNg {
        is_big_endian: bool,
        interfaces: Vec<Interface>,
    },
}

/// Is where packets of a section were captured.
#[derive(Debug, Clone, Copy)]
struct Interface {
    link: u32,
    /// The most that is captured of a packet, in bytes; 0 is no limit.
    snap_length: u32,
    /// Units of time in a second.
    resolution: Option<u128>,
    offset_seconds: i64,
}

const SECTION_HEADER: u32 = 0x0a0d_0d0a;
const INTERFACE_DESCRIPTION: u32 = 1;
const SIMPLE_PACKET: u32 = 3;
const ENHANCED_PACKET: u32 = 6;

const NANOS: i128 = 1_000_000_000;

/// Tells by the first bytes whether a file is a packet capture: pcapng, or pcap in either order of bytes, with
/// times in µs or ns, or in the form that has more with each packet.
pub fn is_capture(bytes: &[u8]) -> bool {
    const PCAP: [u32; 3] = [0xa1b2_c3d4, 0xa1b2_3c4d, 0xa1b2_cd34];
    word(bytes, 0, false).is_some_and(|magic| {
        magic == SECTION_HEADER || PCAP.contains(&magic) || PCAP[..2].contains(&magic.swap_bytes())
    })
}

impl<'a> Packets<'a> {
    /// Begins to read; `None` if it is neither of the two, or its first bytes are not whole.
    pub(super) fn of(bytes: &'a [u8]) -> Option<Self> {
        if word(bytes, 0, false) == Some(SECTION_HEADER) {
            let kind = Kind::PcapNg {
                is_big_endian: false,
                interfaces: Vec::new(),
            };
            return pcap_parser::parse_sectionheaderblock(bytes)
                .is_ok()
                .then_some(Self {
                    rest: bytes,
                    kind,
                    unread: 0,
                });
        }
        let (rest, header) = pcap_parser::parse_pcap_header(bytes).ok()?;
        Some(Self {
            rest,
            kind: Kind::Pcap(header),
            unread: 0,
        })
    }

    /// Gives how many bytes could not be read: a file that was being written ends in the middle of a
    /// packet, and one that is damaged may have more.
    pub(super) fn unread(&self) -> u64 {
        self.unread
    }

    fn give_up(&mut self) {
        self.unread += self.rest.len() as u64;
        self.rest = &[];
    }
}

impl<'a> Iterator for Packets<'a> {
    type Item = Packet<'a>;

    fn next(&mut self) -> Option<Packet<'a>> {
        while !self.rest.is_empty() {
            let rest = self.rest;
            let read = match &mut self.kind {
                Kind::Pcap(header) => record(header, rest).map(|(rest, packet)| (rest, Ok(packet))),
                Kind::PcapNg {
                    is_big_endian,
                    interfaces,
                } => block(rest, is_big_endian, interfaces),
            };
            match read {
                None => self.give_up(),
                Some((rest, packet)) => {
                    let length = self.rest.len() - rest.len();
                    self.rest = rest;
                    match packet {
                        Ok(Some(packet)) => return Some(packet),
                        Ok(None) => {}
                        Err(Damaged) => self.unread += length as u64,
                    }
                }
            }
        }
        None
    }
}

/// Is a block whose length is right and whose content is not.
#[derive(Debug)]
struct Damaged;

/// Reads a record of pcap; `None` if it is not whole.
fn record<'a>(header: &PcapHeader, bytes: &'a [u8]) -> Option<(&'a [u8], Option<Packet<'a>>)> {
    let read = match (header.is_bigendian(), header.is_modified_format()) {
        (true, _) => pcap_parser::parse_pcap_frame_be(bytes),
        (false, true) => pcap_parser::parse_pcap_frame_modified(bytes),
        (false, false) => pcap_parser::parse_pcap_frame(bytes),
    };
    let (rest, frame) = read.ok()?;
    let unit = match header.is_nanosecond_precision() {
        true => 1,
        false => 1000,
    };
    let nanos = i128::from(frame.ts_sec) * NANOS + i128::from(frame.ts_usec) * unit;
    let packet = Packet {
        at: Timestamp::from_nanosecond(nanos).ok(),
        link: link_of(header.network.0),
        bytes: frame.data,
        missing: frame.origlen.saturating_sub(frame.caplen),
    };
    Some((rest, Some(packet)))
}

/// Gives the link type without what else stands in its field.
fn link_of(field: i32) -> u32 {
    // The upper half tells of check sums.
    u32::from_ne_bytes(field.to_ne_bytes()) & 0xffff
}

type Read<'a> = (&'a [u8], Result<Option<Packet<'a>>, Damaged>);

/// Reads a block of pcapng; `None` if it is not whole. A section and an interface are remembered, and
/// blocks of other kinds passed over.
fn block<'a>(
    bytes: &'a [u8],
    is_big_endian: &mut bool,
    interfaces: &mut Vec<Interface>,
) -> Option<Read<'a>> {
    let kind = word(bytes, 0, *is_big_endian)?;
    // Reads the same either way.
    if kind == SECTION_HEADER {
        let (rest, section) = pcap_parser::parse_sectionheaderblock(bytes).ok()?;
        *is_big_endian = section.big_endian();
        interfaces.clear();
        return Some((rest, Ok(None)));
    }
    // Type and length, and the length once more.
    let length = usize::try_from(word(bytes, 4, *is_big_endian)?).ok()?;
    if length < 12 {
        return None;
    }
    let (whole, rest) = bytes.split_at_checked(length)?;
    let read = match kind {
        INTERFACE_DESCRIPTION => {
            let read = match is_big_endian {
                true => pcap_parser::parse_interfacedescriptionblock_be(whole),
                false => pcap_parser::parse_interfacedescriptionblock_le(whole),
            };
            read.map_err(|_| Damaged).map(|(_, block)| {
                interfaces.push(Interface::of(&block, *is_big_endian));
                None
            })
        }
        ENHANCED_PACKET => enhanced(whole, *is_big_endian, interfaces).map(Some),
        SIMPLE_PACKET => simple(whole, *is_big_endian, interfaces).map(Some),
        _ => Ok(None),
    };
    Some((rest, read))
}

fn enhanced<'a>(
    block: &'a [u8],
    is_big_endian: bool,
    interfaces: &[Interface],
) -> Result<Packet<'a>, Damaged> {
    let read = match is_big_endian {
        true => pcap_parser::parse_enhancedpacketblock_be(block),
        false => pcap_parser::parse_enhancedpacketblock_le(block),
    };
    let (_, packet) = read.map_err(|_| Damaged)?;
    let interface = usize::try_from(packet.if_id)
        .ok()
        .and_then(|id| interfaces.get(id))
        .ok_or(Damaged)?;
    let captured = usize::try_from(packet.caplen).map_err(|_| Damaged)?;
    Ok(Packet {
        at: interface.moment(u64::from(packet.ts_high) << 32 | u64::from(packet.ts_low)),
        link: interface.link,
        bytes: packet.data.get(..captured).ok_or(Damaged)?,
        missing: packet.origlen.saturating_sub(packet.caplen),
    })
}

/// A packet without a time, on the first interface.
fn simple<'a>(
    block: &'a [u8],
    is_big_endian: bool,
    interfaces: &[Interface],
) -> Result<Packet<'a>, Damaged> {
    let read = match is_big_endian {
        true => pcap_parser::parse_simplepacketblock_be(block),
        false => pcap_parser::parse_simplepacketblock_le(block),
    };
    let (_, packet) = read.map_err(|_| Damaged)?;
    let interface = interfaces.first().ok_or(Damaged)?;
    let whole = packet.orig_len();
    let captured = match interface.snap_length {
        0 => whole,
        limit => whole.min(limit),
    };
    let length = usize::try_from(captured).map_err(|_| Damaged)?;
    Ok(Packet {
        at: None,
        link: interface.link,
        bytes: packet.data.get(..length).ok_or(Damaged)?,
        missing: whole - captured,
    })
}

impl Interface {
    fn of(block: &InterfaceDescriptionBlock<'_>, is_big_endian: bool) -> Self {
        let exponent = u32::from(block.if_tsresol & 0x7f);
        let offset = block
            .options
            .iter()
            .find(|option| option.code == OptionCode::IfTsoffset)
            .and_then(|option| <[u8; 8]>::try_from(option.as_bytes().ok()?).ok())
            .map(|bytes| match is_big_endian {
                true => i64::from_be_bytes(bytes),
                false => i64::from_le_bytes(bytes),
            });
        Self {
            link: link_of(block.linktype.0),
            snap_length: block.snaplen,
            // Own reading of the option: the crate's takes no power of two.
            resolution: match block.if_tsresol & 0x80 {
                0 => 10_u128.checked_pow(exponent),
                _ => 1_u128.checked_shl(exponent),
            },
            offset_seconds: offset.unwrap_or_default(),
        }
    }

    fn moment(&self, units: u64) -> Option<Timestamp> {
        let nanos = u128::from(units) * NANOS.unsigned_abs() / self.resolution?;
        let offset = i128::from(self.offset_seconds) * NANOS;
        let nanos = i128::try_from(nanos).ok()?.checked_add(offset)?;
        Timestamp::from_nanosecond(nanos).ok()
    }
}

fn word(bytes: &[u8], at: usize, is_big_endian: bool) -> Option<u32> {
    let word = *bytes.get(at..)?.first_chunk::<4>()?;
    Some(match is_big_endian {
        true => u32::from_be_bytes(word),
        false => u32::from_le_bytes(word),
    })
}
