//! What a recorded session says of its host and of the printer behind it.
//!
//! Owns: the guess which member of a body is which quantity, with its evidence; the parameters of heaters by
//! least squares. What is unsure stays a question. Pure: it reads no file and asks nobody.

pub mod host;
pub mod propose;
pub mod thermal;
