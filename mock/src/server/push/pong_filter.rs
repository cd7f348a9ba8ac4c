//! A stream of WebSocket frames without its pongs.
//!
//! The library answers every ping by itself, so a host that does not is one whose pongs are taken out
//! on their way.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

/// Takes pongs out of what is written while it is asked to; all else passes as it is.
pub(super) struct PongFilter<S, F> {
    stream: S,
    /// Says whether a pong that begins now is taken out.
    takes_out: F,
    frames: Frames,
    /// Whether the frame under way is taken out.
    taking_out: bool,
}

/// Knows where in a sequence of frames it is.
///
/// # Source
/// RFC 6455 section 5.2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Frames {
    stage: Stage,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Stage {
    /// Before a frame.
    #[default]
    Begin,
    /// Before the byte with the mask bit and the short length.
    Length,
    /// Before so many bytes of a long length, of which this much is read; a key follows or does not.
    LongLength { left: u8, read: u64, key: u64 },
    /// Before so many bytes of key and payload.
    Rest(u64),
}

/// The opcode of a pong (section 5.5.3).
const PONG: u8 = 0xA;

impl Frames {
    /// Gives the opcode of the frame that a byte begins; `None` within a frame.
    fn begins(self, first: u8) -> Option<u8> {
        (self.stage == Stage::Begin).then_some(first & 0x0f)
    }

    /// Tells how many of some bytes belong to the frame under way, or to the one they begin.
    fn within(mut self, bytes: &[u8]) -> usize {
        let mut count = 0;
        while count < bytes.len() {
            count += self.step(&bytes[count..]);
            if self.stage == Stage::Begin {
                break;
            }
        }
        count
    }

    /// Goes on by these bytes.
    fn advance(&mut self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            let count = self.step(bytes);
            bytes = &bytes[count..];
        }
    }

    /// Goes on by the first of some bytes, of which there is at least one, and gives how many.
    fn step(&mut self, bytes: &[u8]) -> usize {
        let byte = bytes[0];
        let rest = |left| match left {
            0 => Stage::Begin,
            left => Stage::Rest(left),
        };
        let (count, stage) = match self.stage {
            Stage::Begin => (1, Stage::Length),
            Stage::Length => {
                // A server masks nothing (section 5.1), but the length is the same with a mask.
                let key = if byte & 0x80 == 0 { 0 } else { 4 };
                let long = |left| Stage::LongLength { left, read: 0, key };
                let stage = match byte & 0x7f {
                    126 => long(2),
                    127 => long(8),
                    length => rest(u64::from(length) + key),
                };
                (1, stage)
            }
            Stage::LongLength { left, read, key } => {
                let read = (read << 8) | u64::from(byte);
                let stage = match left {
                    1 => rest(read.saturating_add(key)),
                    left => Stage::LongLength {
                        left: left - 1,
                        read,
                        key,
                    },
                };
                (1, stage)
            }
            Stage::Rest(left) => {
                let count = usize::try_from(left).unwrap_or(usize::MAX).min(bytes.len());
                (count, rest(left - count as u64))
            }
        };
        self.stage = stage;
        count
    }
}

impl<S, F: Fn() -> bool> PongFilter<S, F> {
    /// Puts a stream behind a filter that works while `takes_out` says so.
    pub(super) fn new(stream: S, takes_out: F) -> Self {
        Self {
            stream,
            takes_out,
            frames: Frames::default(),
            taking_out: false,
        }
    }
}

impl<S: AsyncRead + Unpin, F: Unpin> AsyncRead for PongFilter<S, F> {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_read(cx, buffer)
    }
}

impl<S: AsyncWrite + Unpin, F: Fn() -> bool + Unpin> AsyncWrite for PongFilter<S, F> {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        let Some(first) = bytes.first() else {
            return Poll::Ready(Ok(0));
        };
        if let Some(opcode) = this.frames.begins(*first) {
            this.taking_out = opcode == PONG && (this.takes_out)();
        }
        let of_frame = &bytes[..this.frames.within(bytes)];
        let done = if this.taking_out {
            of_frame.len()
        } else {
            ready!(Pin::new(&mut this.stream).poll_write(cx, of_frame))?
        };
        this.frames.advance(&of_frame[..done]);
        Poll::Ready(Ok(done))
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_flush(cx)
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use futures_util::FutureExt as _;
    use proptest::prelude::*;
    use tokio::io::AsyncWriteExt as _;

    use super::*;

    /// Writes a frame as RFC 6455 section 5.2 draws it.
    fn frame(opcode: u8, masked: bool, payload: &[u8]) -> Vec<u8> {
        let mut bytes = vec![0x80 | opcode];
        let mask = if masked { 0x80 } else { 0 };
        match payload.len() {
            short @ 0..126 => bytes.push(mask | short as u8),
            long @ 126..0x1_0000 => {
                bytes.push(mask | 126);
                bytes.extend_from_slice(&(long as u16).to_be_bytes());
            }
            longest => {
                bytes.push(mask | 127);
                bytes.extend_from_slice(&(longest as u64).to_be_bytes());
            }
        }
        if masked {
            bytes.extend_from_slice(&[0x8a, 0, 0x8a, 1]);
        }
        bytes.extend_from_slice(payload);
        bytes
    }

    fn opcode() -> impl Strategy<Value = u8> {
        prop_oneof![
            Just(0x0),
            Just(0x1),
            Just(0x2),
            Just(0x8),
            Just(0x9),
            Just(PONG),
            Just(PONG)
        ]
    }

    fn length() -> impl Strategy<Value = usize> {
        prop_oneof![
            Just(0),
            1_usize..8,
            120_usize..130,
            Just(65_535),
            Just(65_536)
        ]
    }

    /// Takes so many bytes at once and no more.
    struct Narrow(Vec<u8>, usize);

    impl AsyncWrite for Narrow {
        fn poll_write(
            self: Pin<&mut Self>,
            _cx: &mut Context<'_>,
            bytes: &[u8],
        ) -> Poll<io::Result<usize>> {
            let this = self.get_mut();
            let count = bytes.len().min(this.1);
            this.0.extend_from_slice(&bytes[..count]);
            Poll::Ready(Ok(count))
        }

        fn poll_flush(self: Pin<&mut Self>, _cx: &mut Context<'_>) -> Poll<io::Result<()>> {
            Poll::Ready(Ok(()))
        }

        fn poll_shutdown(self: Pin<&mut Self>, _cx: &mut Context<'_>) -> Poll<io::Result<()>> {
            Poll::Ready(Ok(()))
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn pongs_and_nothing_else_are_taken_out_whatever_pieces_they_come_in(
            frames in proptest::collection::vec((opcode(), any::<bool>(), length()), 0..8),
            pieces in proptest::collection::vec(1_usize..3000, 1..20),
            narrow in 1_usize..5000,
            takes_out in any::<bool>(),
        ) {
            // Payloads full of bytes that look like the beginning of a pong.
            let written: Vec<(u8, Vec<u8>)> = frames
                .iter()
                .map(|(opcode, masked, length)| {
                    (*opcode, frame(*opcode, *masked, &vec![0x8a; *length]))
                })
                .collect();
            let all: Vec<u8> = written.iter().flat_map(|(_, bytes)| bytes.clone()).collect();
            let mut filter = PongFilter::new(Narrow(Vec::new(), narrow), || takes_out);
            let mut left = &all[..];
            for piece in pieces.iter().cycle() {
                if left.is_empty() {
                    break;
                }
                let (now, later) = left.split_at((*piece).min(left.len()));
                left = later;
                filter.write_all(now).now_or_never().unwrap().unwrap();
            }
            let expected: Vec<u8> = written
                .into_iter()
                .filter(|(opcode, _)| !(takes_out && *opcode == PONG))
                .flat_map(|(_, bytes)| bytes)
                .collect();
            prop_assert_eq!(filter.stream.0, expected);
        }
    }

    #[test]
    fn a_pong_that_has_begun_to_go_out_goes_out_whole() {
        let asked = std::cell::Cell::new(false);
        let mut filter = PongFilter::new(Narrow(Vec::new(), 100), || asked.get());
        let pong = frame(PONG, false, b"now");
        filter
            .write_all(&pong[..2])
            .now_or_never()
            .unwrap()
            .unwrap();
        asked.set(true);
        filter
            .write_all(&pong[2..])
            .now_or_never()
            .unwrap()
            .unwrap();
        filter.write_all(&pong).now_or_never().unwrap().unwrap();
        assert_eq!(filter.stream.0, pong);
    }
}
