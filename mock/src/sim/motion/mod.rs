//! Turns a part program (word-address text) into a timed plan of a print.
//!
//! The way of the data, each stage a folder:
//! - `reader`: bytes to blocks of words, by the published grammar;
//! - `interpreter`: words to commands, by the codes that the trade shares;
//! - `planner`: moves to speeds and times (trapezoids, corners, look-ahead);
//! - `plan`: everything above in one pass, kept as few steps, and a cursor that walks them;
//! - `generator`: test prints of known time and material.
//!
//! What it does not own: heaters (a plan says *wait*, never how long), the clock, files.
//! A plan tells how long a program takes on an ideal machine; no real printer is proved by it.

pub mod bounds;
pub mod generator;
pub mod interpreter;
pub mod plan;
pub mod planner;
pub mod reader;

#[cfg(test)]
mod tests;
