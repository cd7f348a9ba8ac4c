//! The scenarios that come with the binary.

use super::{Scenario, ScenarioError};

/// Lists the built-in scenarios: name and text, in the order they are shown.
pub const BUILTIN: &[(&str, &str)] = &[
    ("heat-up", include_str!("../../../scenarios/heat-up.toml")),
    ("printing", include_str!("../../../scenarios/printing.toml")),
    ("paused", include_str!("../../../scenarios/paused.toml")),
    ("error", include_str!("../../../scenarios/error.toml")),
    ("finished", include_str!("../../../scenarios/finished.toml")),
    (
        "cancelled",
        include_str!("../../../scenarios/cancelled.toml"),
    ),
    ("preheat", include_str!("../../../scenarios/preheat.toml")),
    ("two-jobs", include_str!("../../../scenarios/two-jobs.toml")),
];

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
