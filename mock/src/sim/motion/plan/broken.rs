//! What to do with lines that cannot be carried out.

use crate::sim::motion::interpreter::CodeFault;
use crate::sim::motion::reader::BrokenLine;

/// How many broken lines are listed; the rest are only counted.
const MOST_LISTED: usize = 100;

/// Chooses what a broken line does to the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OnBrokenLine {
    /// Gives up with the line's error.
    #[default]
    Stop,
    /// Leaves the whole line out, counts and lists it.
    Skip,
    /// Ends the plan before the first of them, as a host does that carries lines out as it reads.
    BreakOff,
}

/// Lists the lines that were not carried out, in bounded memory.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BrokenLines {
    policy: OnBrokenLine,
    count: u64,
    first: Vec<BrokenLine<CodeFault>>,
}

impl BrokenLines {
    pub(super) fn new(policy: OnBrokenLine) -> Self {
        Self {
            policy,
            count: 0,
            first: Vec::new(),
        }
    }

    pub(super) fn note(
        &mut self,
        broken: BrokenLine<CodeFault>,
    ) -> Result<(), BrokenLine<CodeFault>> {
        if self.policy == OnBrokenLine::Stop {
            return Err(broken);
        }
        self.count += 1;
        if self.first.len() < MOST_LISTED {
            self.first.push(broken);
        }
        Ok(())
    }

    /// Tells whether the plan ends before a broken line and not at the program's own end.
    pub fn breaks_off(&self) -> bool {
        self.policy == OnBrokenLine::BreakOff && self.count > 0
    }

    /// Counts all lines left out.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Lists the first hundred.
    pub fn first(&self) -> &[BrokenLine<CodeFault>] {
        &self.first
    }
}
