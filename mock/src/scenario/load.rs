//! Reads a scenario, from its text to the checked plan.

use super::check::Checker;
use super::error::ScenarioError;
use super::file::{Files, NoFiles, follow_includes, merged};
use super::plan::Scenario;

impl Scenario {
    /// Reads and checks a scenario's text. `file` is only used to name the place of an error.
    ///
    /// It may include built-in scenarios and printers, but no files, and run no part programs from
    /// files: [`Self::load`] does that.
    ///
    /// # Errors
    /// The first thing wrong, with file, line, field, value and what is allowed.
    pub fn parse(file: &str, text: &str) -> Result<Self, ScenarioError> {
        Self::load(file, text, &NoFiles)
    }

    /// Reads and checks a scenario's text, with the files that it names. `file` is where the text
    /// comes from: files are named relative to it, and errors with it.
    ///
    /// # Errors
    /// The first thing wrong, with the file it is in, line, field, value and what is allowed.
    pub fn load(file: &str, text: &str, files: &dyn Files) -> Result<Self, ScenarioError> {
        let sources = follow_includes(file, text, files)?;
        let document = toml::Deserializer::from(merged(&sources)?);
        let raw = serde_path_to_error::deserialize(document)
            .map_err(|error| sources.error_from_toml(&error.path().to_string(), error.inner()))?;
        Checker {
            sources: &sources,
            files,
        }
        .scenario(&raw)
    }
}
