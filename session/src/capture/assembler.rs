//! One direction of a connection, put together from segments by their numbers (RFC 9293 section 3.4).

use std::collections::BTreeMap;
use std::time::Duration;

/// Puts the bytes of one direction together, in whatever order and however often they come.
#[derive(Debug, Default)]
pub(super) struct Assembler {
    /// The number that is expected next; `None` while nobody knows where the direction begins.
    next: Option<u32>,
    /// How many bytes were given out.
    given: u64,
    /// What came before its turn, by its place in the stream. What came first is kept.
    early: BTreeMap<u64, Vec<u8>>,
    /// What came while nobody knew where to begin.
    held: Vec<(u32, Vec<u8>)>,
    /// The number after the last byte, once a FIN said it.
    end: Option<u32>,
    is_ended: bool,
    /// The number that the other side expects next, as far as it has said.
    expected: Option<u32>,
    behind_since: Option<Duration>,
    /// How many segments on end were too far ahead.
    far: u32,
}

/// What is further ahead is late from a connection before, in bytes (own choice: more than systems give a
/// connection room for, and little beside all numbers, where another connection may have begun).
const MAX_AHEAD: i32 = 16 << 20;

/// So many segments on end that are further ahead are none of another connection (own choice).
const MANY_FAR: u32 = 3;

impl Assembler {
    /// Says the number of the first byte, unless it is known.
    pub(super) fn begin(&mut self, number: u32) {
        if self.next.is_some() {
            return;
        }
        self.next = Some(number);
        for (number, bytes) in std::mem::take(&mut self.held) {
            self.add(number, &bytes);
        }
    }

    /// Tells whether it is known where the direction begins.
    pub(super) fn has_begun(&self) -> bool {
        self.next.is_some()
    }

    /// Gives the number of the first byte.
    pub(super) fn first(&self) -> Option<u32> {
        #[expect(clippy::cast_possible_truncation, reason = "numbers wrap around")]
        self.next.map(|next| next.wrapping_sub(self.given as u32))
    }

    /// Takes a segment's bytes and gives how many of them are kept.
    pub(super) fn add(&mut self, number: u32, bytes: &[u8]) -> usize {
        if bytes.is_empty() || self.is_ended {
            return 0;
        }
        let Some(next) = self.next else {
            self.held.push((number, bytes.to_vec()));
            return bytes.len();
        };
        let ahead = distance(next, number);
        if ahead > MAX_AHEAD {
            self.far = self.far.saturating_add(1);
            return 0;
        }
        // Bytes that were given out come again: a retransmission, or one old byte as a keep-alive probe.
        let old = usize::try_from(-i64::from(ahead)).unwrap_or(0);
        let Some(new) = bytes.get(old..).filter(|new| !new.is_empty()) else {
            return 0;
        };
        let place = self.given + u64::try_from(ahead).unwrap_or(0);
        let known = self.early.entry(place).or_default();
        if known.len() >= new.len() {
            return 0;
        }
        let added = &new[known.len()..];
        known.extend_from_slice(added);
        self.far = 0;
        added.len()
    }

    /// Takes the end of the direction: a FIN after the byte before that number.
    pub(super) fn finish(&mut self, number: u32) {
        self.end.get_or_insert(number);
    }

    /// Hears from the other side what it expects next: all before that has reached it.
    pub(super) fn is_expected(&mut self, number: u32) {
        let is_further = self
            .expected
            .is_none_or(|known| distance(known, number) > 0);
        if is_further {
            self.expected = Some(number);
        }
    }

    /// Gives the bytes whose turn it is; none if the next one has not come.
    pub(super) fn ready(&mut self, at: Duration) -> Vec<u8> {
        let mut ready = Vec::new();
        let Some(mut next) = self.next else {
            return ready;
        };
        while let Some(entry) = self.early.first_entry() {
            let Some(old) = self.given.checked_sub(*entry.key()) else {
                break;
            };
            let bytes = entry.remove();
            let old = usize::try_from(old).unwrap_or(usize::MAX);
            let new = bytes.get(old..).unwrap_or_default();
            ready.extend_from_slice(new);
            self.given += new.len() as u64;
        }
        #[expect(clippy::cast_possible_truncation, reason = "numbers wrap around")]
        let count = ready.len() as u32;
        next = next.wrapping_add(count);
        self.next = Some(next);
        if !self.is_ended && self.end.is_some_and(|end| distance(next, end) <= 0) {
            self.is_ended = true;
            // The FIN has a number, too.
            self.next = Some(next.wrapping_add(1));
            self.early.clear();
        }
        self.behind_since = match (self.lacks_bytes(), self.behind_since) {
            (false, _) => None,
            (true, Some(since)) if ready.is_empty() => Some(since),
            (true, _) => Some(at),
        };
        ready
    }

    /// Tells whether all has come, up to the FIN.
    pub(super) fn is_ended(&self) -> bool {
        self.is_ended
    }

    /// Tells whether the other side has bytes that have not come.
    pub(super) fn is_missing(&self) -> bool {
        let is_expected = match (self.next, self.expected) {
            (Some(next), Some(expected)) => (1..=MAX_AHEAD).contains(&distance(next, expected)),
            _ => false,
        };
        is_expected || self.far >= MANY_FAR
    }

    /// Tells whether there must be bytes that have not come.
    fn lacks_bytes(&self) -> bool {
        let end_is_open = self.end.is_some() && !self.is_ended;
        !self.early.is_empty() || end_is_open || self.is_missing()
    }

    /// Gives since when nothing more could be given out though there must be something.
    pub(super) fn behind_since(&self) -> Option<Duration> {
        self.behind_since
    }
}

/// Gives how far a number is after another one, around the end of the numbers.
fn distance(from: u32, to: u32) -> i32 {
    i32::from_ne_bytes(to.wrapping_sub(from).to_ne_bytes())
}
