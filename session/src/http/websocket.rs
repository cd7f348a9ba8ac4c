//! WebSocket frames (RFC 6455 section 5.2), put together to messages while their bytes go on.

use bytes::Bytes;

use crate::format::{Body, Frame, FrameKind, Sender};

use super::head::NotHttp;

/// Reads the messages of one side.
#[derive(Debug)]
pub struct MessageReader {
    from: Sender,
    /// The message under way: its kind and what came of it.
    under_way: Option<(FrameKind, Vec<u8>)>,
    limit: usize,
}

/// Is one frame in bytes.
struct RawFrame<'a> {
    is_last: bool,
    opcode: u8,
    mask: Option<[u8; 4]>,
    payload: &'a [u8],
    length: usize,
}

impl MessageReader {
    /// Begins to read what that side sends; of a message so many bytes are kept at most.
    pub fn new(from: Sender, limit: usize) -> Self {
        Self {
            from,
            under_way: None,
            limit,
        }
    }

    /// Reads the first frame; `None` while it is not whole. Gives its length, and the message if it is
    /// the last of one.
    ///
    /// # Errors
    /// [`NotHttp`] if it is no frame.
    pub fn take(&mut self, bytes: &[u8]) -> Result<Option<(usize, Option<Frame>)>, NotHttp> {
        let Some(frame) = raw_frame(bytes)? else {
            return Ok(None);
        };
        let mut payload = frame.payload.to_vec();
        if let Some(mask) = frame.mask {
            for (byte, key) in payload.iter_mut().zip(mask.iter().cycle()) {
                *byte ^= key;
            }
        }
        let kind = match frame.opcode {
            0 => None,
            1 => Some(FrameKind::Text),
            2 => Some(FrameKind::Binary),
            8 => Some(FrameKind::Close),
            9 => Some(FrameKind::Ping),
            10 => Some(FrameKind::Pong),
            other => return Err(NotHttp(format!("{other} is no kind of WebSocket frame"))),
        };
        let message = match kind {
            // Between the frames of a message there may be these (section 5.4).
            Some(kind @ (FrameKind::Close | FrameKind::Ping | FrameKind::Pong)) => {
                Some((kind, payload))
            }
            _ => self.add(kind, payload, frame.is_last),
        };
        let message = message.map(|(kind, payload)| Frame {
            from: self.from,
            kind,
            body: Body::from(Bytes::from(payload)),
        });
        Ok(Some((frame.length, message)))
    }

    fn add(
        &mut self,
        kind: Option<FrameKind>,
        payload: Vec<u8>,
        is_last: bool,
    ) -> Option<(FrameKind, Vec<u8>)> {
        let (_, content) = match kind {
            Some(kind) => self.under_way.insert((kind, Vec::new())),
            None => self
                .under_way
                .get_or_insert((FrameKind::Binary, Vec::new())),
        };
        let room = self.limit.saturating_sub(content.len());
        content.extend(payload.into_iter().take(room));
        if is_last { self.under_way.take() } else { None }
    }
}

/// The longest frame that is waited for, in bytes.
const MAX_FRAME_BYTES: u64 = 64 << 20;

fn raw_frame(bytes: &[u8]) -> Result<Option<RawFrame<'_>>, NotHttp> {
    let [first, second, rest @ ..] = bytes else {
        return Ok(None);
    };
    let short = u64::from(second & 0x7f);
    let (length, rest, extra) = match short {
        126 => match rest.split_first_chunk::<2>() {
            Some((length, rest)) => (u64::from(u16::from_be_bytes(*length)), rest, 2),
            None => return Ok(None),
        },
        127 => match rest.split_first_chunk::<8>() {
            Some((length, rest)) => (u64::from_be_bytes(*length), rest, 8),
            None => return Ok(None),
        },
        length => (length, rest, 0),
    };
    if length > MAX_FRAME_BYTES {
        return Err(NotHttp(format!("a WebSocket frame of {length} bytes")));
    }
    let is_masked = second & 0x80 != 0;
    let (mask, rest) = match is_masked {
        false => (None, rest),
        true => match rest.split_first_chunk::<4>() {
            Some((mask, rest)) => (Some(*mask), rest),
            None => return Ok(None),
        },
    };
    let length = usize::try_from(length).unwrap_or(usize::MAX);
    let Some(payload) = rest.get(..length) else {
        return Ok(None);
    };
    Ok(Some(RawFrame {
        is_last: first & 0x80 != 0,
        opcode: first & 0x0f,
        mask,
        payload,
        length: 2 + extra + if is_masked { 4 } else { 0 } + length,
    }))
}

/// Gives a message of a host as one frame, unmasked (section 5.1).
pub fn host_frame(kind: FrameKind, payload: &[u8]) -> Vec<u8> {
    let opcode = match kind {
        FrameKind::Text => 1,
        FrameKind::Binary => 2,
        FrameKind::Close => 8,
        FrameKind::Ping => 9,
        FrameKind::Pong => 10,
    };
    let mut frame = vec![0x80 | opcode];
    match payload.len() {
        #[expect(clippy::cast_possible_truncation, reason = "below 126")]
        length @ 0..=125 => frame.push(length as u8),
        length @ 126..=65_535 => {
            frame.push(126);
            #[expect(clippy::cast_possible_truncation, reason = "below 65536")]
            frame.extend((length as u16).to_be_bytes());
        }
        length => {
            frame.push(127);
            frame.extend((length as u64).to_be_bytes());
        }
    }
    frame.extend_from_slice(payload);
    frame
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn the_frames_of_rfc_6455_s5_7_are_read_as_it_says() {
        let mut host = MessageReader::new(Sender::Host, 100);
        let hello = |frame: Option<Frame>| {
            let frame = frame.unwrap();
            (frame.kind, frame.body.text().unwrap().to_owned())
        };
        // "A single-frame unmasked text message", then "a single-frame masked text message".
        let unmasked = [0x81, 0x05, 0x48, 0x65, 0x6c, 0x6c, 0x6f];
        let (length, frame) = host.take(&unmasked).unwrap().unwrap();
        assert_eq!(
            (length, hello(frame)),
            (7, (FrameKind::Text, "Hello".to_owned()))
        );
        let masked = [
            0x81, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f, 0x9f, 0x4d, 0x51, 0x58,
        ];
        let (length, frame) = host.take(&masked).unwrap().unwrap();
        assert_eq!(
            (length, hello(frame)),
            (11, (FrameKind::Text, "Hello".to_owned()))
        );
        // "A fragmented unmasked text message", with a ping between the two (section 5.4).
        assert_eq!(
            host.take(&[0x01, 0x03, 0x48, 0x65, 0x6c]).unwrap(),
            Some((5, None))
        );
        let (_, ping) = host
            .take(&[0x89, 0x05, 0x48, 0x65, 0x6c, 0x6c, 0x6f])
            .unwrap()
            .unwrap();
        assert_eq!(hello(ping), (FrameKind::Ping, "Hello".to_owned()));
        let (_, frame) = host.take(&[0x80, 0x02, 0x6c, 0x6f]).unwrap().unwrap();
        assert_eq!(hello(frame), (FrameKind::Text, "Hello".to_owned()));
    }

    proptest! {
        #[test]
        fn what_a_host_sends_is_read(text in ".{0,300}", cut in any::<prop::sample::Index>()) {
            let frame = host_frame(FrameKind::Text, text.as_bytes());
            let mut reader = MessageReader::new(Sender::Host, 10_000);
            prop_assert_eq!(reader.take(&frame[..cut.index(frame.len())]).unwrap(), None);
            let (length, read) = reader.take(&frame).unwrap().unwrap();
            prop_assert_eq!(length, frame.len());
            let read = read.unwrap();
            prop_assert_eq!(read.body.text().unwrap(), text);
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = MessageReader::new(Sender::Watcher, 10).take(&bytes);
        }
    }
}
