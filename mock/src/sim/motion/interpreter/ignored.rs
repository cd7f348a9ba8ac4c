//! Counts the codes that mean nothing here.

use std::collections::BTreeMap;

use super::error::CodeName;

/// How many different codes are counted one by one. Chosen: print programs use a few dozen.
const MOST_DIFFERENT: usize = 64;

/// Says how often one code was met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IgnoredCode {
    /// The code.
    pub code: CodeName,
    /// How often.
    pub count: u64,
}

/// Counts codes that were read over, in bounded memory.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct IgnoredCodes {
    counts: BTreeMap<CodeName, u64>,
    others: u64,
}

impl IgnoredCodes {
    pub(super) fn note(&mut self, code: CodeName) {
        if let Some(count) = self.counts.get_mut(&code) {
            *count += 1;
        } else if self.counts.len() < MOST_DIFFERENT {
            self.counts.insert(code, 1);
        } else {
            self.others += 1;
        }
    }

    /// Lists the codes in order of letter and number.
    pub fn each(&self) -> impl Iterator<Item = IgnoredCode> {
        self.counts.iter().map(|(code, count)| IgnoredCode {
            code: *code,
            count: *count,
        })
    }

    /// Counts those that came when the list was full.
    pub fn others(&self) -> u64 {
        self.others
    }

    /// Counts all.
    pub fn total(&self) -> u64 {
        self.counts.values().sum::<u64>() + self.others
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_beyond_the_list_are_not_lost() {
        let mut ignored = IgnoredCodes::default();
        for tenths in 0..100 {
            ignored.note(CodeName {
                letter: b'M',
                tenths,
            });
        }
        ignored.note(CodeName {
            letter: b'M',
            tenths: 0,
        });
        assert_eq!(ignored.each().count(), MOST_DIFFERENT);
        assert_eq!((ignored.total(), ignored.others()), (101, 36));
        assert_eq!(ignored.each().next().map(|code| code.count), Some(2));
    }
}
