//! A stretch of motion, many moves in one.

use super::step::Place;

/// Holds a stretch of motion. Between its ends everything is taken to go evenly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotionChunk {
    /// The exact time of its moves.
    pub duration_s: f64,
    /// The time that distance by speed alone would give.
    pub naive_s: f64,
    /// The first move's line, and the bytes before it.
    pub start: Place,
    /// The last move's line, and the bytes up to its end.
    pub end: Place,
    /// The layer counted from 1; 0 before the first.
    pub layer: u32,
    /// Height at the start.
    pub start_z_mm: f64,
    /// Height at the end.
    pub end_z_mm: f64,
    /// Filament used before.
    pub start_filament_mm: f64,
    /// Filament used within. A retraction and its return count nothing.
    pub filament_mm: f64,
    /// How many moves it holds.
    pub moves: u64,
}

impl MotionChunk {
    /// Gives the mean flow for a filament of the given cross-section.
    pub fn flow_mm3_per_s(&self, filament_area_mm2: f64) -> f64 {
        if self.duration_s > 0.0 {
            self.filament_mm * filament_area_mm2 / self.duration_s
        } else {
            0.0
        }
    }

    /// Appends the stretch that follows.
    pub(super) fn append(&mut self, next: &Self) {
        self.duration_s += next.duration_s;
        self.naive_s += next.naive_s;
        self.end = next.end;
        self.layer = next.layer;
        self.end_z_mm = next.end_z_mm;
        self.filament_mm += next.filament_mm;
        self.moves += next.moves;
    }
}
