//! Bytes cut into lines, however they arrive.

use std::borrow::Cow;

/// Longer lines are cut while they are read: a watcher gone wild must not fill the memory (own choice).
pub(super) const LINE_LIMIT: usize = 64 * 1024;

/// Cuts a stream of bytes into lines.
///
/// A line ends with LF, CR LF, or CR alone: a display that draws its line anew puts a CR before or after
/// it.
#[derive(Debug, Default)]
pub(super) struct LineCutter {
    line: Vec<u8>,
    after_cr: bool,
}

impl LineCutter {
    /// Takes bytes and hands over each line that they end.
    pub(super) fn take(&mut self, mut bytes: &[u8], mut line: impl FnMut(String)) {
        if self.after_cr && bytes.first() == Some(&b'\n') {
            bytes = &bytes[1..];
        }
        if !bytes.is_empty() {
            self.after_cr = false;
        }
        while let Some(end) = bytes.iter().position(|byte| matches!(byte, b'\n' | b'\r')) {
            self.keep(&bytes[..end]);
            line(self.end());
            let is_cr = bytes[end] == b'\r';
            bytes = &bytes[end + 1..];
            if is_cr {
                match bytes.first() {
                    Some(b'\n') => bytes = &bytes[1..],
                    Some(_) => {}
                    None => self.after_cr = true,
                }
            }
        }
        self.keep(bytes);
    }

    /// Hands over what stands after the last line end, when there will be no more.
    pub(super) fn rest(&mut self) -> Option<String> {
        (!self.line.is_empty()).then(|| self.end())
    }

    fn keep(&mut self, bytes: &[u8]) {
        let room = LINE_LIMIT.saturating_sub(self.line.len());
        self.line.extend_from_slice(&bytes[..bytes.len().min(room)]);
    }

    fn end(&mut self) -> String {
        let text = match String::from_utf8_lossy(&self.line) {
            Cow::Borrowed(text) => text.trim_end().to_owned(),
            Cow::Owned(text) => text.trim_end().to_owned(),
        };
        self.line.clear();
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cut(chunks: &[&[u8]]) -> Vec<String> {
        let mut cutter = LineCutter::default();
        let mut lines = Vec::new();
        for chunk in chunks {
            cutter.take(chunk, |line| lines.push(line));
        }
        lines.extend(cutter.rest());
        lines
    }

    #[test]
    fn lf_cr_lf_and_cr_alone_each_end_one_line() {
        assert_eq!(cut(&[b"a\nb\r\nc\rd"]), ["a", "b", "c", "d"]);
        assert_eq!(cut(&[b"a\r", b"\nb"]), ["a", "b"]);
        assert_eq!(cut(&[b"a\r", b"b"]), ["a", "b"]);
        assert_eq!(cut(&[b"a\n\nb"]), ["a", "", "b"]);
    }

    #[test]
    fn a_line_is_cut_while_it_is_read() {
        let mut cutter = LineCutter::default();
        for _ in 0..40 {
            cutter.take(&[b'x'; 4096], |_| panic!("no line has ended"));
            assert!(cutter.line.len() <= LINE_LIMIT);
            assert!(cutter.line.capacity() <= 2 * LINE_LIMIT);
        }
        let mut lines = Vec::new();
        cutter.take(b"tail\nnext\n", |line| lines.push(line));
        assert_eq!(lines[0].len(), LINE_LIMIT);
        assert_eq!(lines[1], "next");
    }

    #[test]
    fn bytes_that_are_no_utf_8_are_replaced() {
        assert_eq!(cut(&[b"\xff\xfeok\n"]), ["\u{fffd}\u{fffd}ok"]);
    }

    proptest! {
        #[test]
        fn where_the_bytes_are_parted_makes_no_difference(
            bytes in proptest::collection::vec(prop_oneof![Just(b'\r'), Just(b'\n'), Just(b'a'), any::<u8>()], 0..60),
            part in 0_usize..60,
        ) {
            let part = part.min(bytes.len());
            prop_assert_eq!(cut(&[&bytes]), cut(&[&bytes[..part], &bytes[part..]]));
        }
    }
}
