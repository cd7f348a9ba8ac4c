//! Putting results into words.

pub mod terminal;
