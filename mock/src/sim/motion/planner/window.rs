//! The window of moves whose speeds are not settled yet.

use std::collections::VecDeque;

use super::corner::corner_speed_squared;
use super::limits::{CornerRule, MotionLimits};
use super::profile::Profile;
use super::segment::Segment;

/// Holds a move with its final speeds, and what the caller attached to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned<T> {
    /// The move.
    pub segment: Segment,
    /// Its speeds and times.
    pub profile: Profile,
    /// What was pushed with it.
    pub tag: T,
}

/// Collects moves and gives them out, in order, once their speeds are settled.
///
/// Moves are given out a window at a time, so that the two passes over the window cost each move a fixed amount.
/// A move is settled when at least `window_moves` moves after it are known or the machine comes to rest; beyond the
/// known moves a rest is assumed, so the machine can always stop in time.
#[derive(Debug)]
pub struct LookAhead<T> {
    corner: CornerRule,
    window_moves: usize,
    queue: VecDeque<Waiting<T>>,
}

#[derive(Debug)]
struct Waiting<T> {
    segment: Segment,
    tag: T,
    /// Highest squared speed that the corner before the move allows.
    corner_squared: f64,
    /// Squared speed at the move's start as planned so far; settled for the first move of the queue.
    entry_squared: f64,
}

impl<T> LookAhead<T> {
    /// Starts at rest. The limits must have been checked.
    pub fn new(limits: &MotionLimits) -> Self {
        let window_moves = limits.window_moves.max(1);
        Self {
            corner: limits.corner,
            window_moves,
            queue: VecDeque::with_capacity(2 * window_moves),
        }
    }

    /// Adds a move; `out` gets the moves that are settled by it.
    pub fn push(&mut self, segment: Segment, tag: T, out: &mut impl FnMut(Planned<T>)) {
        let corner_squared = self.queue.back().map_or(0.0, |before| {
            corner_speed_squared(self.corner, &before.segment, &segment)
        });
        self.queue.push_back(Waiting {
            segment,
            tag,
            corner_squared,
            entry_squared: 0.0,
        });
        if self.queue.len() >= 2 * self.window_moves {
            self.give_out(self.window_moves, out);
        }
    }

    /// Comes to rest after the last move; `out` gets all moves left.
    pub fn rest(&mut self, out: &mut impl FnMut(Planned<T>)) {
        self.give_out(self.queue.len(), out);
    }

    /// Counts the moves not given out yet.
    pub fn waiting(&self) -> usize {
        self.queue.len()
    }

    fn give_out(&mut self, count: usize, out: &mut impl FnMut(Planned<T>)) {
        self.look_back();
        self.look_forward();
        for _ in 0..count {
            let Some(first) = self.queue.pop_front() else {
                break;
            };
            let exit_squared = self.queue.front().map_or(0.0, |next| next.entry_squared);
            let Waiting {
                segment,
                tag,
                entry_squared,
                ..
            } = first;
            out(Planned {
                segment,
                profile: settle(&segment, entry_squared, exit_squared),
                tag,
            });
        }
    }

    /// Lowers entries so that every later stop and corner can be braked for.
    fn look_back(&mut self) {
        let mut exit_squared = 0.0;
        for waiting in self.queue.iter_mut().skip(1).rev() {
            let reach = exit_squared
                + 2.0 * waiting.segment.acceleration_mm_per_s2 * waiting.segment.length_mm;
            waiting.entry_squared = waiting.corner_squared.min(reach);
            exit_squared = waiting.entry_squared;
        }
    }

    /// Lowers entries to what can be reached from the move before.
    fn look_forward(&mut self) {
        let mut reach = f64::INFINITY;
        for waiting in &mut self.queue {
            waiting.entry_squared = waiting.entry_squared.min(reach);
            reach = waiting.entry_squared
                + 2.0 * waiting.segment.acceleration_mm_per_s2 * waiting.segment.length_mm;
        }
    }
}

fn settle(segment: &Segment, entry_squared: f64, exit_squared: f64) -> Profile {
    let (length, cruise) = (segment.length_mm, segment.cruise_mm_per_s);
    let acceleration = segment.acceleration_mm_per_s2;
    let (entry, exit) = (
        entry_squared.sqrt().min(cruise),
        exit_squared.sqrt().min(cruise),
    );
    Profile::fastest(length, entry, cruise, exit, acceleration)
        .expect("the passes over the window leave only reachable speeds")
}
