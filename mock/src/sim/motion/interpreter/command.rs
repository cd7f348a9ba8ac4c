//! What a program asks for, freed of modes, units and offsets.

use super::arc::Arc;
use crate::sim::HeaterKind;

/// Holds a place of the machine.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Position {
    /// X, Y and Z in mm, counted from the machine's own zero, whatever offsets are in force.
    pub xyz_mm: [f64; 3],
    /// Material fed since the start, retractions taken off, in mm of filament.
    pub material_mm: f64,
}

/// Tells what a move is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MoveKind {
    /// G0.
    Rapid,
    /// G1, G2, G3.
    Feed,
    /// G28: rests at both ends.
    Home,
}

/// Tells the way from start to end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Path {
    /// The straight line.
    Straight,
    /// An arc in the XY plane, with Z and the material going along evenly.
    Arc(Arc),
}

/// Holds one move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// Where it starts: the end of the move before.
    pub start: Position,
    /// Where it ends.
    pub end: Position,
    /// The way between.
    pub path: Path,
    /// Speed asked for, along the path (along the material axis where nothing else moves).
    pub feed_mm_per_s: f64,
    /// What it is for.
    pub kind: MoveKind,
}

/// Holds one thing to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Command {
    /// Move.
    Move(Move),
    /// Come to rest and stay for a time.
    Dwell {
        /// That time.
        duration_s: f64,
    },
    /// Come to rest and take no time.
    Settle,
    /// Set a heater's target and go on; 0 switches it off.
    SetTarget {
        /// Which heater.
        heater: HeaterKind,
        /// The target.
        celsius: f64,
    },
    /// Come to rest and wait until a heater has reached its target.
    WaitTarget {
        /// Which heater.
        heater: HeaterKind,
        /// The target.
        celsius: f64,
    },
    /// Set the part fan.
    Fan {
        /// 0 off to 1 full.
        fraction: f64,
    },
    /// Come to rest and wait for a person.
    Pause,
    /// Come to rest; nothing after this is carried out.
    End,
}
