//! One event that happens at once: what somebody issues while the printer runs.

use serde_json::{Map, Value};

use super::ScenarioError;
use super::check::Checker;
use super::error::Sources;
use super::file::NoFiles;
use super::plan::{Action, Scenario};
use super::raw::RawEvent;

impl Scenario {
    /// Reads and checks what happens at once: the keys of an event of a scenario file, without those
    /// that say when.
    ///
    /// # Errors
    /// The first thing wrong, in the words that a scenario file would be told; no file and no line.
    pub fn action(&self, event: &Map<String, Value>) -> Result<Action, ScenarioError> {
        let no_line = |error: ScenarioError| ScenarioError {
            line: None,
            ..error
        };
        let wrong = |field: &str, problem: String| ScenarioError {
            file: "event".to_owned(),
            line: None,
            field: field.to_owned(),
            problem,
        };
        if let Some((key, _)) = event.iter().find(|(_, value)| value.is_null()) {
            return Err(wrong(key, "cannot be null [leave the key out]".to_owned()));
        }
        // The keys know their places in a text, and a scenario's text is TOML.
        let text = toml::to_string(event)
            .map_err(|error| wrong("", format!("cannot be a scenario's event: {error}")))?;
        let sources = Sources::new("event", &text);
        let toml = toml::Deserializer::parse(&text)
            .map_err(|error| no_line(sources.error_from_toml("", &error)))?;
        let raw: RawEvent = serde_path_to_error::deserialize(toml).map_err(|error| {
            no_line(sources.error_from_toml(&error.path().to_string(), error.inner()))
        })?;
        let checker = Checker {
            sources: &sources,
            files: &NoFiles,
        };
        checker.action_at_once(&raw, &self.heaters).map_err(no_line)
    }
}
