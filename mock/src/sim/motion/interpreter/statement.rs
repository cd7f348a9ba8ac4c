//! Sorts the words of a line by what they are for.

use super::code::{Code, GROUPS, Group};
use super::error::{CodeFault, CodeName};
use crate::sim::motion::reader::Word;

/// A fault and the column of the word where it shows.
pub(super) type FaultAt = (u32, CodeFault);

/// Holds the words of one line: one code of each group, and one word of each letter.
#[derive(Debug)]
pub(super) struct Statement {
    groups: [Option<(Code, CodeName, u32)>; GROUPS],
    words: [Option<Word>; 26],
    unknown: bool,
    first_column: u32,
}

impl Statement {
    /// Sorts words; codes without meaning are noted in `ignored`.
    pub(super) fn sort(words: &[Word], ignored: &mut Vec<CodeName>) -> Result<Self, FaultAt> {
        let first_column = words.first().map_or(1, |word| word.column);
        let mut sorted = Self {
            groups: [None; GROUPS],
            words: [None; 26],
            unknown: false,
            first_column,
        };
        for word in words {
            match word.letter {
                letter @ (b'G' | b'M') => {
                    let fault = |fault| (word.column, fault);
                    let value = word
                        .value
                        .ok_or(fault(CodeFault::NumberMissing { letter }))?;
                    let name = CodeName::read(letter, value).map_err(fault)?;
                    sorted.add_code(name, word.column, ignored).map_err(fault)?;
                }
                letter => sorted.words[usize::from(letter - b'A')] = Some(*word),
            }
        }
        Ok(sorted)
    }

    fn add_code(
        &mut self,
        name: CodeName,
        column: u32,
        ignored: &mut Vec<CodeName>,
    ) -> Result<(), CodeFault> {
        let Some(code) = Code::find(name) else {
            ignored.push(name);
            self.unknown = true;
            return Ok(());
        };
        let slot = &mut self.groups[code.group() as usize];
        if let Some((_, first, _)) = slot {
            return Err(CodeFault::TwoOfAKind {
                first: *first,
                second: name,
            });
        }
        *slot = Some((code, name, column));
        Ok(())
    }

    /// Gives the group's code with its name and column.
    pub(super) fn code(&self, group: Group) -> Option<(Code, CodeName, u32)> {
        self.groups[group as usize]
    }

    /// Tells whether a code without meaning stands here: words without a code of their own are then that code's.
    pub(super) fn has_unknown(&self) -> bool {
        self.unknown
    }

    /// Tells whether the letter stands here, with or without a number.
    pub(super) fn has(&self, letter: u8) -> bool {
        self.word(letter).is_some()
    }

    /// Gives the number after the letter, none if the letter is not there.
    pub(super) fn number(&self, letter: u8) -> Result<Option<f64>, FaultAt> {
        match self.word(letter) {
            None => Ok(None),
            Some(Word {
                value: Some(value), ..
            }) => Ok(Some(value)),
            Some(Word { column, .. }) => Err((column, CodeFault::NumberMissing { letter })),
        }
    }

    /// Gives the column of the letter, or of the line's first word.
    pub(super) fn column(&self, letter: u8) -> u32 {
        self.word(letter)
            .map_or(self.first_column, |word| word.column)
    }

    /// Gives the column of the line's first word.
    pub(super) fn first_column(&self) -> u32 {
        self.first_column
    }

    fn word(&self, letter: u8) -> Option<Word> {
        self.words[usize::from(letter - b'A')]
    }
}
