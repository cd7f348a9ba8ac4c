//! A message's content, followed to its end.

use crate::format::Framing;

use super::head::NotHttp;

/// Follows content through its framing, however its bytes are split.
#[derive(Debug)]
pub struct ContentReader {
    framing: Framing,
    state: State,
    /// What came of the content, without framing, up to the limit.
    content: Vec<u8>,
    /// How much came of it.
    length: u64,
    limit: usize,
    /// How long each chunk said it was.
    chunks: Vec<u64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// So much is still to come of the content or of the chunk.
    Data(u64),
    /// The line with a chunk's size, so far as it has come.
    Size,
    /// The line's end after a chunk, of which so many bytes are still to come.
    AfterChunk,
    /// The trailer after the last chunk.
    Trailer,
    Done,
}

/// The longest line between chunks, in bytes.
const MAX_LINE_BYTES: usize = 4096;

impl ContentReader {
    /// Begins to follow content of that framing and length, and keeps so many bytes of it.
    pub fn new(framing: Framing, length: u64, limit: usize) -> Self {
        let state = match framing {
            Framing::None => State::Done,
            Framing::Length if length == 0 => State::Done,
            Framing::Length => State::Data(length),
            Framing::Chunked => State::Size,
            Framing::Close => State::Data(u64::MAX),
        };
        Self {
            framing,
            state,
            content: Vec::new(),
            length: 0,
            limit,
            chunks: Vec::new(),
        }
    }

    /// Takes bytes and gives how many of them belong to the content with its framing.
    ///
    /// A line between chunks that is not whole is not taken: it comes again with what follows it.
    ///
    /// # Errors
    /// [`NotHttp`] where a chunk's size is none.
    pub fn take(&mut self, bytes: &[u8]) -> Result<usize, NotHttp> {
        let mut taken = 0;
        while taken < bytes.len() && self.state != State::Done {
            let rest = &bytes[taken..];
            match self.state {
                State::Data(left) => {
                    let count = rest.len().min(usize::try_from(left).unwrap_or(usize::MAX));
                    self.keep(&rest[..count]);
                    taken += count;
                    self.state = self.after_data(left, count as u64);
                }
                State::Size | State::AfterChunk | State::Trailer => {
                    let Some(end) = rest.iter().position(|&byte| byte == b'\n') else {
                        if rest.len() > MAX_LINE_BYTES {
                            return Err(NotHttp("a line between chunks has no end".to_owned()));
                        }
                        return Ok(taken);
                    };
                    let line = &rest[..=end];
                    taken += line.len();
                    self.state = self.after_line(line)?;
                }
                State::Done => {}
            }
        }
        Ok(taken)
    }

    fn keep(&mut self, bytes: &[u8]) {
        self.length += bytes.len() as u64;
        let room = self.limit.saturating_sub(self.content.len());
        self.content
            .extend_from_slice(&bytes[..bytes.len().min(room)]);
    }

    fn after_data(&self, left: u64, count: u64) -> State {
        match (self.framing, left - count) {
            (Framing::Close, _) => State::Data(u64::MAX),
            (Framing::Chunked, 0) => State::AfterChunk,
            (_, 0) => State::Done,
            (_, left) => State::Data(left),
        }
    }

    fn after_line(&mut self, line: &[u8]) -> Result<State, NotHttp> {
        let is_empty = line.iter().all(|byte| matches!(byte, b'\r' | b'\n'));
        match self.state {
            State::AfterChunk if is_empty => Ok(State::Size),
            State::AfterChunk => Err(NotHttp("a chunk is longer than it said".to_owned())),
            State::Trailer if is_empty => Ok(State::Done),
            State::Trailer => Ok(State::Trailer),
            _ => match httparse::parse_chunk_size(line) {
                Ok(httparse::Status::Complete((_, 0))) => Ok(State::Trailer),
                Ok(httparse::Status::Complete((_, size))) => {
                    self.chunks.push(size);
                    Ok(State::Data(size))
                }
                _ => Err(NotHttp("a chunk's size is no number".to_owned())),
            },
        }
    }

    /// Tells whether the content is whole.
    pub fn is_done(&self) -> bool {
        self.state == State::Done
    }

    /// Tells whether the content is whole if the connection ends here.
    pub fn is_done_at_the_end(&self) -> bool {
        self.is_done() || self.framing == Framing::Close
    }

    /// Gives what came of the content, up to the limit.
    pub fn content(&self) -> &[u8] {
        &self.content
    }

    /// Takes out what came of the content, and goes on.
    pub fn drain(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.content)
    }

    /// Gives how many bytes of content came, also those past the limit.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// Gives how long each chunk said it was.
    pub fn chunks(&self) -> &[u64] {
        &self.chunks
    }

    /// Gives the framing.
    pub fn framing(&self) -> Framing {
        self.framing
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Feeds bytes split at places, as a connection gives them.
    fn fed(reader: &mut ContentReader, bytes: &[u8], splits: &[usize]) -> Result<Vec<u8>, NotHttp> {
        let mut pending = Vec::new();
        let mut splits: Vec<usize> = splits
            .iter()
            .map(|split| split % (bytes.len() + 1))
            .collect();
        splits.extend([0, bytes.len()]);
        splits.sort_unstable();
        for pair in splits.windows(2) {
            pending.extend_from_slice(&bytes[pair[0]..pair[1]]);
            let taken = reader.take(&pending)?;
            pending.drain(..taken);
        }
        Ok(pending)
    }

    proptest! {
        #[test]
        fn however_chunks_are_split_the_content_is_the_same(
            chunks in proptest::collection::vec("[a-z\r\n]{1,9}", 0..5),
            splits in proptest::collection::vec(any::<usize>(), 0..9),
        ) {
            let mut wire = String::new();
            for chunk in &chunks {
                wire.push_str(&format!("{:X};note=1\r\n{chunk}\r\n", chunk.len()));
            }
            wire.push_str("0\r\nServer-Timing: x\r\n\r\nHTTP/1.1 next");
            let mut reader = ContentReader::new(Framing::Chunked, 0, 1000);
            let rest = fed(&mut reader, wire.as_bytes(), &splits).unwrap();
            prop_assert!(reader.is_done());
            let whole = chunks.concat();
            prop_assert_eq!(reader.content(), whole.as_bytes());
            prop_assert_eq!(&rest[..], b"HTTP/1.1 next");
            let sizes: Vec<u64> = chunks.iter().map(|chunk| chunk.len() as u64).collect();
            prop_assert_eq!(reader.chunks(), &sizes[..]);
        }

        #[test]
        fn no_bytes_make_it_panic(
            bytes in proptest::collection::vec(any::<u8>(), 0..200),
            splits in proptest::collection::vec(any::<usize>(), 0..5),
            length in any::<u64>(),
        ) {
            for framing in [Framing::Chunked, Framing::Length, Framing::Close, Framing::None] {
                let mut reader = ContentReader::new(framing, length, 50);
                let _ = fed(&mut reader, &bytes, &splits);
                prop_assert!(reader.content().len() <= 50);
            }
        }
    }

    #[test]
    fn content_by_length_ends_there() {
        let mut reader = ContentReader::new(Framing::Length, 4, 100);
        assert_eq!(reader.take(b"{}").unwrap(), 2);
        assert!(!reader.is_done() && !reader.is_done_at_the_end());
        assert_eq!(reader.take(b"{}HTTP").unwrap(), 2);
        assert!(reader.is_done());
    }

    #[test]
    fn content_without_a_length_ends_with_the_connection() {
        let mut reader = ContentReader::new(Framing::Close, 0, 100);
        assert_eq!(reader.take(b"all of it").unwrap(), 9);
        assert!(!reader.is_done() && reader.is_done_at_the_end());
    }
}
