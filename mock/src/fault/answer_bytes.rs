//! The bytes of one answer under a script.

use bytes::{Buf as _, Bytes, BytesMut};

use super::Position;
use super::framing::{Framing, Head};
use super::script::{Cut, Ending, Pace, Script};
use crate::drift::recase;

/// Says what to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act {
    /// Send these bytes.
    Send(Bytes),
    /// End the connection so; nothing comes after it.
    End(Ending),
}

/// Turns the bytes of one answer, however they come, into what goes out.
///
/// Pure: the same bytes give the same acts, whatever pieces they come in.
#[derive(Debug)]
pub struct AnswerBytes {
    script: Script,
    /// Whether the answer has no body whatever its head says, as to HEAD.
    bodiless: bool,
    stage: Stage,
    /// What is to be sent.
    out: BytesMut,
    /// How the connection ends behind that, if it does.
    ending: Option<Ending>,
    /// How many bytes the acts so far have sent.
    sent: u64,
    /// How many of these belong to the body.
    body_sent: Option<u64>,
    /// What went out so far, if it is to come again.
    copy: BytesMut,
}

#[derive(Debug)]
enum Stage {
    Head(BytesMut),
    Body(Framing),
    /// The answer is over; what comes belongs to the next one.
    Done,
    /// The connection is ended by the script.
    Ended,
}

/// How long a copy of an answer may get; what is longer comes only once.
///
/// Chosen: far more than any watcher asks for, and no way to fill memory.
const MAX_COPY_BYTES: usize = 1024 * 1024;

impl AnswerBytes {
    /// Begins with an answer. `bodiless` says that it has no body whatever its head says.
    pub fn new(script: Script, bodiless: bool) -> Self {
        let mut this = Self {
            script,
            bodiless,
            stage: Stage::Head(BytesMut::new()),
            out: BytesMut::new(),
            ending: None,
            sent: 0,
            body_sent: None,
            copy: BytesMut::new(),
        };
        if let Some(Cut::Instead(bytes)) = this.script.cut.clone() {
            this.out.extend_from_slice(&bytes);
            this.end(Ending::Close);
        }
        this
    }

    /// Gives how fast the bytes go out.
    pub fn pace(&self) -> Pace {
        self.script.pace
    }

    /// Tells whether the answer is over and everything of it has been asked for.
    pub fn is_done(&self) -> bool {
        matches!(self.stage, Stage::Done) && self.out.is_empty()
    }

    /// Gives how many bytes the acts so far have sent, and how many of these belong to the body:
    /// `None` before the head is over.
    pub fn sent(&self) -> (u64, Option<u64>) {
        (self.sent, self.body_sent)
    }

    /// Changes the script of an answer that is under way.
    pub fn set_script(&mut self, script: Script) {
        self.script = script;
    }

    /// Takes bytes of the answer and gives how many: all of them, unless the answer is over before.
    pub fn feed(&mut self, bytes: &[u8]) -> usize {
        let mut left = bytes;
        while !left.is_empty() {
            match &mut self.stage {
                Stage::Ended => return bytes.len(),
                Stage::Done => break,
                Stage::Head(head) => {
                    let before = head.len();
                    head.extend_from_slice(left);
                    let Some(end) = end_of_head(head) else {
                        return bytes.len();
                    };
                    let whole = head.split_to(end);
                    left.advance(end - before);
                    self.head(&whole.freeze());
                }
                Stage::Body(framing) => {
                    let piece = framing.next(left);
                    let (now, later) = left.split_at(piece.length);
                    left = later;
                    if piece.is_last_chunk && self.script.cut == Some(Cut::NoLastChunk) {
                        self.end(Ending::Close);
                    } else {
                        self.emit(now, true);
                    }
                    if piece.is_end {
                        self.finish();
                    }
                }
            }
        }
        bytes.len() - left.len()
    }

    /// Notes that nothing more comes of an answer whose end is that of its connection.
    pub fn closes(&mut self) {
        if matches!(self.stage, Stage::Body(Framing::UntilClose)) {
            self.finish();
        }
    }

    /// Gives the next thing to do.
    pub fn next_act(&mut self) -> Option<Act> {
        if self.out.is_empty() {
            return self.ending.take().map(Act::End);
        }
        Some(Act::Send(self.out.split().freeze()))
    }

    fn head(&mut self, head: &Bytes) {
        let read = Head::read(head, self.bodiless);
        if read.status < 200 && read.status != 101 {
            // An interim answer of the host's own; the answer is still to come.
            self.emit(head, false);
            if !matches!(self.stage, Stage::Ended) {
                self.stage = Stage::Head(BytesMut::new());
            }
            return;
        }
        for code in std::mem::take(&mut self.script.interim) {
            let reason = http::StatusCode::from_u16(code)
                .ok()
                .and_then(|code| code.canonical_reason())
                .unwrap_or("Interim");
            self.emit(
                format!("HTTP/1.1 {code} {reason}\r\n\r\n").as_bytes(),
                false,
            );
        }
        let mut edited = edited(head, &self.script);
        if let Some(case) = self.script.field_case {
            edited = recase(&edited, case).into();
        }
        if self.script.twice {
            self.copy.extend_from_slice(&edited);
        }
        self.emit(&edited, false);
        if matches!(self.stage, Stage::Ended) {
            return;
        }
        self.body_sent = Some(0);
        let is_over = read.framing == Framing::Length(0);
        self.stage = Stage::Body(read.framing);
        if is_over {
            self.finish();
        }
    }

    /// Sends bytes, as far as the cut lets them.
    fn emit(&mut self, bytes: &[u8], of_body: bool) {
        if matches!(self.stage, Stage::Ended) || bytes.is_empty() {
            return;
        }
        if of_body && self.script.twice && self.copy.len() + bytes.len() <= MAX_COPY_BYTES {
            self.copy.extend_from_slice(bytes);
        }
        let room = self.room(of_body);
        let count = usize::try_from(room).unwrap_or(usize::MAX).min(bytes.len());
        if count > 0 {
            self.out.extend_from_slice(&bytes[..count]);
            self.sent += count as u64;
            if of_body {
                self.body_sent = self.body_sent.map(|sent| sent + count as u64);
            }
        }
        if count < bytes.len()
            && let Some(Cut::At(_, ending)) = self.script.cut
        {
            self.end(ending);
        }
    }

    /// Gives how many more bytes the cut lets pass.
    fn room(&self, of_body: bool) -> u64 {
        let Some(Cut::At(position, _)) = self.script.cut else {
            return u64::MAX;
        };
        match (position, of_body) {
            (Position::Start, _) => 0,
            (Position::Byte(count), _) => count.saturating_sub(self.sent),
            (Position::HeadEnd | Position::BodyByte(_), false) => u64::MAX,
            (Position::HeadEnd, true) => 0,
            (Position::BodyByte(count), true) => {
                count.saturating_sub(self.body_sent.unwrap_or_default())
            }
        }
    }

    fn end(&mut self, ending: Ending) {
        self.ending = Some(ending);
        self.stage = Stage::Ended;
    }

    fn finish(&mut self) {
        if matches!(self.stage, Stage::Ended) {
            return;
        }
        let copy = std::mem::take(&mut self.copy);
        self.script.twice = false;
        self.emit(&copy, true);
        if let Some(trailing) = self.script.trailing.take() {
            self.emit(&trailing, true);
        }
        if !matches!(self.stage, Stage::Ended) {
            self.stage = Stage::Done;
        }
    }
}

fn end_of_head(bytes: &[u8]) -> Option<usize> {
    const END: &[u8] = b"\r\n\r\n";
    let at = bytes.windows(END.len()).position(|window| window == END)?;
    Some(at + END.len())
}

/// Writes a head with the fields that the script changes.
fn edited(head: &Bytes, script: &Script) -> Bytes {
    if script.huge_header.is_none() && script.length_by.is_none() {
        return head.clone();
    }
    let mut edited = Vec::with_capacity(head.len());
    for (index, line) in head.split_inclusive(|byte| *byte == b'\n').enumerate() {
        match script.length_by.and_then(|by| wrong_length(line, by)) {
            Some(line) => edited.extend_from_slice(line.as_bytes()),
            None => edited.extend_from_slice(line),
        }
        if let (0, Some(bytes)) = (index, script.huge_header) {
            edited.extend_from_slice(b"Filler: ");
            edited.resize(edited.len() + bytes as usize, b'a');
            edited.extend_from_slice(b"\r\n");
        }
    }
    edited.into()
}

fn wrong_length(line: &[u8], by: i32) -> Option<String> {
    let (name, value) = std::str::from_utf8(line).ok()?.split_once(':')?;
    if !name.eq_ignore_ascii_case("content-length") {
        return None;
    }
    let length: i64 = value.trim().parse().ok()?;
    let told = (length + i64::from(by)).max(0);
    Some(format!("{name}: {told}\r\n"))
}
