//! `coldbed list`.

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::{BUILTIN, Scenario};

use super::Failure;
use super::say::say;
use crate::exit_code::Outcome;

pub(super) fn list() -> Result<Outcome, Failure> {
    let width = BUILTIN
        .iter()
        .map(|(name, _)| name.len())
        .max()
        .unwrap_or(0);
    let mut list = String::new();
    for (name, text) in BUILTIN {
        let scenario =
            Scenario::parse(name, text).map_err(|error| Failure::new(Outcome::OwnFault, error))?;
        list += &format!("{name:width$}  {}\n", scenario.title);
    }
    list += "\ndialects, for --dialect:\n";
    for name in DialectFile::builtin_names() {
        let dialect =
            DialectFile::builtin(name).map_err(|error| Failure::new(Outcome::OwnFault, error))?;
        let title = dialect.first().title().unwrap_or_default();
        let versions = dialect.versions().iter().map(|version| version.version());
        let versions = versions.collect::<Vec<_>>().join(", ");
        list += &format!("{name:width$}  {title} [{versions}]\n");
    }
    say(list);
    Ok(Outcome::Done)
}
