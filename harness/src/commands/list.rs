//! `coldbed list`.

use coldbed_mock::scenario::{BUILTIN, Scenario};

use super::Failure;
use crate::exit_code::Outcome;

pub(super) fn list() -> Result<Outcome, Failure> {
    let width = BUILTIN
        .iter()
        .map(|(name, _)| name.len())
        .max()
        .unwrap_or(0);
    for (name, text) in BUILTIN {
        let scenario =
            Scenario::parse(name, text).map_err(|error| Failure::new(Outcome::OwnFault, error))?;
        println!("{name:width$}  {}", scenario.title);
    }
    Ok(Outcome::Done)
}
