//! The steps of a plan.

use super::chunk::MotionChunk;
use crate::sim::HeaterKind;

/// Holds a place in the program text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// The line counted from 1; 0 before the first.
    pub line: u64,
    /// Bytes of the program up to here.
    pub byte: u64,
}

/// Holds one step of a plan.
///
/// Motion and dwells take the time they say. Targets, fan and layers take none. Waits, pauses and the end last until
/// somebody else says so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ProgramStep {
    /// Moves for a time.
    Motion(MotionChunk),
    /// Stays for a time.
    Dwell {
        /// That time.
        duration_s: f64,
        /// The end of the line that says so.
        place: Place,
    },
    /// Sets a heater's target and goes on; 0 switches it off.
    SetTarget {
        /// Which heater.
        heater: HeaterKind,
        /// The target.
        celsius: f64,
    },
    /// Waits until a heater has reached its target.
    WaitTarget {
        /// Which heater.
        heater: HeaterKind,
        /// The target.
        celsius: f64,
        /// The end of the line that says so.
        place: Place,
    },
    /// Sets the part fan.
    Fan {
        /// 0 off to 1 full.
        fraction: f64,
    },
    /// Waits for a person.
    Pause {
        /// The end of the line that says so.
        place: Place,
    },
    /// Ends the program.
    End {
        /// The end of the last line carried out.
        place: Place,
    },
    /// Begins a layer.
    LayerChange {
        /// The layer counted from 1.
        index: u32,
        /// The height of its first bead.
        z_mm: f64,
    },
}

/// Names what a step of no length changes: a later one of the same kind undoes an earlier one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Instant {
    Target(HeaterKind),
    Fan,
    Layer,
}

impl ProgramStep {
    /// Tells what the step changes if it takes no time and waits for nothing.
    pub(super) fn instant(&self) -> Option<Instant> {
        match self {
            Self::SetTarget { heater, .. } => Some(Instant::Target(*heater)),
            Self::Fan { .. } => Some(Instant::Fan),
            Self::LayerChange { .. } => Some(Instant::Layer),
            Self::Motion(_)
            | Self::Dwell { .. }
            | Self::WaitTarget { .. }
            | Self::Pause { .. }
            | Self::End { .. } => None,
        }
    }

    /// Gives the time that the step takes by itself, none if somebody else decides.
    pub fn duration_s(&self) -> Option<f64> {
        match self {
            Self::Motion(chunk) => Some(chunk.duration_s),
            Self::Dwell { duration_s, .. } => Some(*duration_s),
            Self::SetTarget { .. } | Self::Fan { .. } | Self::LayerChange { .. } => Some(0.0),
            Self::WaitTarget { .. } | Self::Pause { .. } | Self::End { .. } => None,
        }
    }
}
