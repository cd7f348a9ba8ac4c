//! Faults as values, and what they make of the bytes of an answer.

mod answer_bytes;
mod board;
mod kinds;
mod page;
