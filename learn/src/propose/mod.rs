//! A proposal: the dialect as a file, with its evidence and its questions, and the printer as another.

mod access;
mod expression;
mod printer;
mod schema;
mod template;
#[cfg(test)]
mod tests;
mod text;

pub use printer::{NominalWatts, printer};
pub use schema::schema;
pub use text::{Proposal, propose};
