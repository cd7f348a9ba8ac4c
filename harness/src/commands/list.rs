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
    for (name, text) in BUILTIN {
        let scenario =
            Scenario::parse(name, text).map_err(|error| Failure::new(Outcome::OwnFault, error))?;
        say(format_args!("{name:width$}  {}\n", scenario.title));
    }
    say("\ndialects, for --dialect:\n");
    for name in DialectFile::builtin_names() {
        let dialect =
            DialectFile::builtin(name).map_err(|error| Failure::new(Outcome::OwnFault, error))?;
        let title = dialect.first().title().unwrap_or_default();
        let versions = dialect.versions().iter().map(|version| version.version());
        let versions = versions.collect::<Vec<_>>().join(", ");
        say(format_args!("{name:width$}  {title} [{versions}]\n"));
    }
    Ok(Outcome::Done)
}
