//! What can be wrong with the meaning of a line.

use std::fmt;

use thiserror::Error;

use crate::sim::motion::bounds::OutOfBounds;
use crate::sim::motion::reader::LineFault;

/// Says why a line cannot be carried out.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum CodeFault {
    /// The line departs from the grammar.
    #[error("{0}")]
    Grammar(LineFault),
    /// A number lies outside what is accepted.
    #[error("{0}")]
    Bounds(OutOfBounds),
    /// The number after G or M has more than one decimal.
    #[error("code number {value} has more than one decimal")]
    CodeNumber {
        /// The number.
        value: f64,
    },
    /// Two codes of which only one may stand on a line.
    #[error("{second} cannot share a line with {first}")]
    TwoOfAKind {
        /// The code that came first.
        first: CodeName,
        /// The code that clashes.
        second: CodeName,
    },
    /// A code without a word it needs.
    #[error("{code} has no {}", Letters(.needs))]
    WordMissing {
        /// The code.
        code: CodeName,
        /// The letters of which one is needed.
        needs: &'static str,
    },
    /// A letter without the number that its code needs.
    #[error("no number after `{}`", char::from(*.letter))]
    NumberMissing {
        /// The letter.
        letter: u8,
    },
    /// Axis words and no code to use them.
    #[error("axis words without a motion code (no G0 to G3 so far)")]
    NoMotionCode,
    /// A feed move before any F word.
    #[error("no feed so far (give F with the first move)")]
    NoFeed,
    /// An arc with both a radius and a centre.
    #[error("arc has both R and a centre (give R, or I and J)")]
    ArcTwice,
    /// An arc whose start and end are not equally far from its centre.
    #[error("arc ends {off_mm:.4} mm off its circle (up to {tolerance_mm} mm is accepted)")]
    ArcOff {
        /// By how much the radii differ.
        off_mm: f64,
        /// How much is accepted.
        tolerance_mm: f64,
    },
    /// An arc of no size.
    #[error("arc has radius 0")]
    ArcRadiusZero,
    /// An arc by radius whose end is its start.
    #[error("arc with R ends where it starts (a full circle needs I or J)")]
    ArcRadiusFull,
    /// An arc by radius whose end is farther off than two radii.
    #[error("arc with R {radius_mm} mm cannot reach an end {distance_mm:.4} mm off")]
    ArcRadiusShort {
        /// The radius given.
        radius_mm: f64,
        /// From start to end.
        distance_mm: f64,
    },
}

impl From<OutOfBounds> for CodeFault {
    fn from(error: OutOfBounds) -> Self {
        Self::Bounds(error)
    }
}

/// Names a code as people write it: `G1`, `M104`, `G92.1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct CodeName {
    /// `G` or `M`.
    pub letter: u8,
    /// The number times ten.
    pub tenths: u32,
}

impl fmt::Display for CodeName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", char::from(self.letter), self.tenths / 10)?;
        if self.tenths.is_multiple_of(10) {
            Ok(())
        } else {
            write!(f, ".{}", self.tenths % 10)
        }
    }
}

/// Writes `PS` as "P or S".
struct Letters<'a>(&'a str);

impl fmt::Display for Letters<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, letter) in self.0.chars().enumerate() {
            write!(f, "{}{letter}", if index == 0 { "" } else { " or " })?;
        }
        Ok(())
    }
}
