//! Tests of several stages together. What one file can prove alone is tested there.

mod codes;
mod errors;
mod grammar;
mod planning;
mod properties;
mod round_trip;
mod timing;
mod walking;

use std::io::Cursor as Bytes;

use super::interpreter::{Command, Interpreter, InterpreterOptions};
use super::plan::{Plan, PlanOptions, plan_program};
use super::planner::{AxisSpeeds, CornerRule, MotionLimits};
use super::reader::{BareLetters, ProgramReader, Word};

/// Reads one line's words; panics if it is broken.
fn words_of(line: &str) -> Vec<Word> {
    let mut reader = ProgramReader::new(Bytes::new(line), BareLetters::Allow);
    reader
        .next_block()
        .unwrap()
        .map_or_else(Vec::new, |block| block.words.to_vec())
}

/// Carries a program out and gives all commands; panics if a line is broken.
fn commands_of(text: &str, options: InterpreterOptions) -> Vec<Command> {
    let mut reader = ProgramReader::new(Bytes::new(text), BareLetters::Allow);
    let mut interpreter = Interpreter::new(options).unwrap();
    let (mut all, mut some) = (Vec::new(), Vec::new());
    while let Some(block) = reader.next_block().unwrap() {
        interpreter.carry_out(&block, &mut some).unwrap();
        all.append(&mut some);
    }
    all
}

/// Options of a machine without limits but its acceleration, which rests after every move.
fn resting(acceleration_mm_per_s2: f64) -> PlanOptions {
    let limits = MotionLimits {
        acceleration_mm_per_s2,
        axis_speeds: AxisSpeeds::UNLIMITED,
        corner: CornerRule::Stop,
        window_moves: 64,
    };
    PlanOptions {
        limits,
        ..PlanOptions::default()
    }
}

fn plan(text: &str, options: &PlanOptions) -> Plan {
    plan_program(Bytes::new(text), options).unwrap()
}

fn assert_near(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected} within {tolerance}"
    );
}
