//! What a host's answers mean, guessed from how they change.
//!
//! Every guess has a confidence and its evidence. What is below [`SURE`] is a question, and nothing is
//! made of it.

mod guess;
mod number;
mod phases;
mod samples;
mod state;
mod temperatures;
mod times;
mod words;

pub use guess::{Form, Guess, Leaf, Meaning, RouteGuess, SURE, Unit, Words};
pub(crate) use samples::escaped;
pub use state::guess_routes;
