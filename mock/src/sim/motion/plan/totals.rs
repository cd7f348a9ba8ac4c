//! A finished plan and its sums.

use super::broken::BrokenLines;
use super::step::ProgramStep;
use crate::sim::motion::interpreter::IgnoredCodes;

/// Holds the sums over a program.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Totals {
    /// Bytes read: up to the end of the line that ends the program.
    pub bytes: u64,
    /// Lines read.
    pub lines: u64,
    /// Moves.
    pub moves: u64,
    /// Time in motion.
    pub motion_s: f64,
    /// Time in dwells.
    pub dwell_s: f64,
    /// What a bad estimator says: distance by speed asked for, and the dwells.
    pub naive_s: f64,
    /// Length of all moves in space.
    pub path_mm: f64,
    /// Filament used. A retraction and its return count nothing.
    pub filament_mm: f64,
    /// Layers.
    pub layers: u32,
}

impl Totals {
    /// Gives the time that the program takes by itself, waits for heat and people not counted.
    pub fn known_s(&self) -> f64 {
        self.motion_s + self.dwell_s
    }
}

/// Holds a planned program.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The steps in order; the last is always [`ProgramStep::End`].
    pub steps: Vec<ProgramStep>,
    /// The sums.
    pub totals: Totals,
    /// Cross-section of the filament.
    pub filament_area_mm2: f64,
    /// Codes that mean nothing here.
    pub ignored: IgnoredCodes,
    /// Lines that were not carried out.
    pub broken: BrokenLines,
}
