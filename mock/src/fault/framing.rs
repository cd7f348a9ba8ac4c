//! Where the body of an answer ends.
//!
//! # Source
//! RFC 9112 section 6.3 (length of a message body) and section 7.1 (chunks).

/// Knows how much of a body is still to come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Framing {
    /// So many bytes.
    Length(u64),
    /// Chunks, the last of which is empty.
    Chunks(Chunks),
    /// Everything until the connection ends.
    UntilClose,
}

/// Is what a head says of its message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Head {
    pub(super) status: u16,
    pub(super) framing: Framing,
}

/// Is a piece of a body that belongs together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Piece {
    /// How many bytes it has.
    pub(super) length: usize,
    /// Whether it begins the last chunk.
    pub(super) is_last_chunk: bool,
    /// Whether the body is over behind it.
    pub(super) is_end: bool,
}

/// Says how far the chunks are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) enum Chunks {
    /// In the line with the size, of which this is read.
    #[default]
    Start,
    Size(Vec<u8>),
    /// In a chunk, so many bytes and the end of the line before its end.
    Data(u64),
    /// In the lines behind the last chunk; whether the line has anything in it.
    Trailer(bool),
    /// Behind everything.
    Over,
}

impl Head {
    /// Reads a head that this host has written, its last empty line included.
    pub(super) fn read(head: &[u8], bodiless: bool) -> Self {
        let text = String::from_utf8_lossy(head);
        let mut lines = text.split("\r\n");
        let status = lines
            .next()
            .and_then(|line| line.split(' ').nth(1)?.parse().ok())
            .unwrap_or(0);
        let fields = || {
            text.split("\r\n")
                .skip(1)
                .filter_map(|line| line.split_once(':'))
        };
        let value = |wanted: &str| {
            fields()
                .find(|(name, _)| name.eq_ignore_ascii_case(wanted))
                .map(|(_, value)| value.trim())
        };
        let framing = if status == 101 {
            Framing::UntilClose
        } else if bodiless || status < 200 || matches!(status, 204 | 304) {
            Framing::Length(0)
        } else if value("transfer-encoding").is_some_and(|coding| coding.ends_with("chunked")) {
            Framing::Chunks(Chunks::default())
        } else {
            let length = value("content-length").and_then(|length| length.parse().ok());
            length.map_or(Framing::UntilClose, Framing::Length)
        };
        Self { status, framing }
    }
}

impl Framing {
    /// Takes the next piece off bytes, of which there is at least one.
    pub(super) fn next(&mut self, bytes: &[u8]) -> Piece {
        match self {
            Self::UntilClose => Piece {
                length: bytes.len(),
                is_last_chunk: false,
                is_end: false,
            },
            Self::Length(left) => {
                let length = usize::try_from(*left)
                    .unwrap_or(usize::MAX)
                    .min(bytes.len());
                *left -= length as u64;
                Piece {
                    length,
                    is_last_chunk: false,
                    is_end: *left == 0,
                }
            }
            Self::Chunks(chunks) => chunks.next(bytes),
        }
    }
}

impl Chunks {
    fn next(&mut self, bytes: &[u8]) -> Piece {
        let mut piece = Piece {
            length: 1,
            is_last_chunk: false,
            is_end: false,
        };
        let byte = bytes[0];
        match self {
            Self::Start => {
                // The first digit tells, since this host writes no leading zeros.
                piece.is_last_chunk = byte == b'0';
                *self = Self::Size(vec![byte]);
            }
            Self::Size(line) => {
                if byte == b'\n' {
                    let size = size_of(line);
                    *self = match size {
                        0 => Self::Trailer(false),
                        size => Self::Data(size + 2),
                    };
                } else {
                    line.push(byte);
                }
            }
            Self::Data(left) => {
                let length = usize::try_from(*left)
                    .unwrap_or(usize::MAX)
                    .min(bytes.len());
                piece.length = length;
                *left -= length as u64;
                if *left == 0 {
                    *self = Self::Start;
                }
            }
            Self::Trailer(has_anything) => match (byte, *has_anything) {
                (b'\n', false) => {
                    piece.is_end = true;
                    *self = Self::Over;
                }
                (b'\n', true) => *self = Self::Trailer(false),
                (b'\r', _) => {}
                _ => *self = Self::Trailer(true),
            },
            Self::Over => piece.length = 0,
        }
        piece
    }
}

fn size_of(line: &[u8]) -> u64 {
    let text = String::from_utf8_lossy(line);
    let digits = text.trim_end().split(';').next().unwrap_or_default();
    u64::from_str_radix(digits.trim(), 16).unwrap_or(0)
}
