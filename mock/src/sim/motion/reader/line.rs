//! Reads the words of one line.

use super::block::Word;
use super::error::LineFault;
use super::number::{Number, is_blank, read_number};

/// The longest line, its end and a `;` comment not counted.
///
/// # Source
/// NISTIR 6556, format of a line: at most 256 characters.
pub const MAX_LINE_CHARACTERS: usize = 256;
/// The most digits of a line number. Same source: 0 to 99999.
pub const MAX_LINE_NUMBER_DIGITS: usize = 5;
/// The most M words on a line. Same source (from memory).
pub(super) const MAX_M_WORDS: u32 = 4;

/// Tells what to do with a letter that no number follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BareLetters {
    /// Let it through without a value (common practice: `G28 X` names an axis).
    #[default]
    Allow,
    /// Refuse it, as the published grammar does.
    Refuse,
}

/// Tells what a line was, besides its words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Line {
    /// Words, none for a blank line or one of comments only.
    Words { number: Option<u32>, optional: bool },
    /// The `%` that marks a program's start and end.
    Mark,
}

/// A fault and the index of the byte where it shows.
pub(super) type FaultAt = (usize, LineFault);

/// Reads one line (without its end) into `words`, which is emptied first.
pub(super) fn read_line(
    text: &[u8],
    bare: BareLetters,
    words: &mut Vec<Word>,
) -> Result<Line, FaultAt> {
    words.clear();
    if text.len() > MAX_LINE_CHARACTERS && code_length(text) > MAX_LINE_CHARACTERS {
        return Err((MAX_LINE_CHARACTERS, LineFault::TooLong));
    }
    let mut at = skip_blanks(text, 0);
    if text.get(at) == Some(&b'%') {
        return read_mark(text, at + 1);
    }
    let optional = text.get(at) == Some(&b'/');
    if optional {
        at = skip_blanks(text, at + 1);
    }
    let mut number = None;
    if matches!(text.get(at), Some(b'N' | b'n')) {
        let (found, next) = read_line_number(text, at)?;
        (number, at) = (Some(found), next);
    }
    let mut seen = Seen::default();
    while let Some(&byte) = text.get(at) {
        match byte {
            _ if is_blank(byte) => at += 1,
            b';' => break,
            b'(' => at = skip_comment(text, at)?,
            _ if byte.is_ascii_alphabetic() => {
                let (word, next) = read_word(text, at, bare)?;
                seen.note(word.letter).map_err(|fault| (at, fault))?;
                words.push(word);
                at = next;
            }
            b'#' | b'[' => return Err((at, LineFault::Expression(byte))),
            _ => return Err((at, LineFault::Unexpected(byte))),
        }
    }
    Ok(Line::Words { number, optional })
}

/// Counts the bytes before a `;` comment.
fn code_length(text: &[u8]) -> usize {
    let mut within_comment = false;
    text.iter()
        .position(|byte| {
            match byte {
                b'(' => within_comment = true,
                b')' => within_comment = false,
                _ => {}
            }
            *byte == b';' && !within_comment
        })
        .unwrap_or(text.len())
}

fn skip_blanks(text: &[u8], mut at: usize) -> usize {
    while text.get(at).is_some_and(|byte| is_blank(*byte)) {
        at += 1;
    }
    at
}

fn read_mark(text: &[u8], after: usize) -> Result<Line, FaultAt> {
    let at = skip_blanks(text, after);
    match text.get(at) {
        None | Some(b';') => Ok(Line::Mark),
        Some(byte) => Err((at, LineFault::Unexpected(*byte))),
    }
}

fn read_line_number(text: &[u8], letter_at: usize) -> Result<(u32, usize), FaultAt> {
    let (mut at, mut digits, mut number) = (letter_at + 1, 0, 0_u32);
    while let Some(&byte) = text.get(at) {
        if byte.is_ascii_digit() {
            digits += 1;
            if digits > MAX_LINE_NUMBER_DIGITS {
                return Err((at, LineFault::LineNumberTooLong));
            }
            number = number * 10 + u32::from(byte - b'0');
        } else if !is_blank(byte) {
            break;
        }
        at += 1;
    }
    if digits == 0 {
        Err((letter_at, LineFault::LineNumberMissing))
    } else {
        Ok((number, at))
    }
}

/// Gives the index after the comment's `)`.
fn skip_comment(text: &[u8], open_at: usize) -> Result<usize, FaultAt> {
    for (offset, &byte) in text[open_at + 1..].iter().enumerate() {
        let at = open_at + 1 + offset;
        match byte {
            b')' => return Ok(at + 1),
            b'(' => return Err((at, LineFault::CommentNested)),
            b'\t' => {}
            // Bytes above ASCII are parts of letters in today's texts, and so printable.
            _ if byte.is_ascii_control() => return Err((at, LineFault::CommentUnprintable(byte))),
            _ => {}
        }
    }
    Err((open_at, LineFault::CommentOpen))
}

fn read_word(text: &[u8], at: usize, bare: BareLetters) -> Result<(Word, usize), FaultAt> {
    let letter = text[at].to_ascii_uppercase();
    if letter == b'N' {
        return Err((at, LineFault::LineNumberLate));
    }
    // A line is at most 256 bytes here, so the column always fits.
    let column = u32::try_from(at + 1).unwrap_or(u32::MAX);
    let next = skip_blanks(text, at + 1);
    match read_number(text, next) {
        Number::Value(value, end) => Ok((
            Word {
                letter,
                value: Some(value),
                column,
            },
            end,
        )),
        Number::NoDigit => Err((at, LineFault::NoDigit { letter })),
        Number::Absent => match text.get(next) {
            Some(&byte @ (b'#' | b'[')) => Err((next, LineFault::Expression(byte))),
            _ if bare == BareLetters::Refuse || letter == b'G' || letter == b'M' => {
                Err((at, LineFault::NoNumber { letter }))
            }
            _ => Ok((
                Word {
                    letter,
                    value: None,
                    column,
                },
                next,
            )),
        },
    }
}

/// Remembers the letters of a line, to find repeated ones.
#[derive(Default)]
struct Seen {
    letters: u32,
    m_words: u32,
}

impl Seen {
    /// # Source
    /// NISTIR 6556, word repetition (from memory): any number of G words, up to four M words, one of each other letter.
    fn note(&mut self, letter: u8) -> Result<(), LineFault> {
        match letter {
            b'G' => {}
            b'M' => {
                self.m_words += 1;
                if self.m_words > MAX_M_WORDS {
                    return Err(LineFault::TooManyMWords);
                }
            }
            _ => {
                let bit = 1 << (letter - b'A');
                if self.letters & bit != 0 {
                    return Err(LineFault::LetterTwice { letter });
                }
                self.letters |= bit;
            }
        }
        Ok(())
    }
}
