//! The scenarios that come with the binary, and the printers they share.

use super::{Scenario, ScenarioError};

/// Lists `scenarios/NAME.toml` for names, with their texts.
macro_rules! texts {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("../../../scenarios/", $folder, $name, ".toml")))),+]
    };
}

/// Lists the built-in scenarios: name and text, in the order they are shown.
pub const BUILTIN: &[(&str, &str)] = texts!["":
    "heat-up", "printing", "paused", "error", "finished", "cancelled", "preheat", "two-jobs",
    "next-job", "jam", "door", "sensor-faults", "over-reading-sensor", "power-dip", "host-restart",
    "host-updated", "clock-set-back", "key-revoked", "bad-network", "host-changes", "enclosed", "test-print", "rough-estimates",
];

/// Lists the built-in printers: name and text. They are no scenarios by themselves, as nothing
/// happens in them; a scenario includes one by name.
pub const PRINTERS: &[(&str, &str)] = texts!["printers/": "desk-printer"];

/// Gives the names of all that can be included.
pub(super) fn names() -> impl Iterator<Item = &'static str> {
    PRINTERS.iter().chain(BUILTIN).map(|(name, _)| *name)
}

/// Gives the text of a built-in printer or scenario.
pub(super) fn text(name: &str) -> Option<&'static str> {
    PRINTERS
        .iter()
        .chain(BUILTIN)
        .find(|(known, _)| *known == name)
        .map(|(_, text)| *text)
}

impl Scenario {
    /// Gives a built-in scenario by name; `None` if there is none of that name.
    ///
    /// # Errors
    /// As [`Scenario::parse`]; a built-in text that does not parse is a defect that a test finds.
    pub fn builtin(name: &str) -> Option<Result<Self, ScenarioError>> {
        let (name, text) = BUILTIN.iter().find(|(known, _)| *known == name)?;
        Some(Self::parse(name, text))
    }
}
