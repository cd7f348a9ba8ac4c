//! A plan as a scenario file: what is run, what is saved and what is replayed are one text.

use std::fmt::Write as _;

use coldbed_mock::sim::Trouble;
use serde::Serialize;

use super::{PlannedTrouble, TroublePlan};

/// Says why a plan cannot be a scenario file.
#[derive(Debug, thiserror::Error)]
#[error("`{trouble}` cannot be written in a file")]
pub struct NotWritable {
    /// The trouble, in words.
    pub trouble: String,
    /// Why not.
    #[source]
    pub source: toml::ser::Error,
}

/// One short job after the other, each with other values, so that an old value cannot pass for a new
/// one: a job begins every so many beats.
const JOB_EVERY: u32 = 8;

impl TroublePlan {
    /// Gives how long the scenario lasts, in beats: until all troubles are over, and one more.
    pub fn length(&self) -> u32 {
        self.ends() + 1
    }

    /// Writes the plan as a scenario. `comment` stands above it, line by line.
    ///
    /// # Errors
    /// [`NotWritable`] for a trouble that TOML has no words for, such as one with a null in it.
    pub fn text(&self, comment: &str) -> Result<String, NotWritable> {
        let mut text = String::new();
        for line in comment.lines() {
            let line = format!("# {line}");
            text.push_str(line.trim_end());
            text.push('\n');
        }
        let length = self.length();
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "include = \"desk-printer\"\ntitle = \"Short jobs, and what went wrong meanwhile\"\n\
             length = \"{length}m\"\n",
        );
        for number in 0..length.div_ceil(JOB_EVERY) {
            text.push_str(&job(number));
        }
        for trouble in self.in_order() {
            text.push_str(&event(trouble)?);
        }
        Ok(text)
    }
}

fn job(number: u32) -> String {
    let begins = 1 + number * JOB_EVERY;
    let duration = 150 + 3 * number;
    let platform = 45 + number * 7 % 20;
    let extruder = 200 + number * 7 % 25;
    format!(
        "\n[[job]]\nname = \"clip-{:02}\"\nat = \"{begins}m\"\nduration = \"{duration}s\"\n\
         targets-celsius = {{ platform = {platform}, extruder = {extruder} }}\n",
        number + 1
    )
}

fn event(planned: &PlannedTrouble) -> Result<String, NotWritable> {
    let not_writable = |source| NotWritable {
        trouble: planned.to_string(),
        source,
    };
    let what = match &planned.trouble {
        Trouble::Fault(fault) => {
            let kind = inline(&fault.fault).map_err(not_writable)?;
            let scope = match inline(&fault.scope).map_err(not_writable)?.as_str() {
                "{}" => String::new(),
                scope => format!("scope = {scope}\n"),
            };
            format!("action = \"fault-raised\"\nfault = {kind}\n{scope}")
        }
        Trouble::Drift(drift) => {
            let pointer = inline(&drift.pointer).map_err(not_writable)?;
            let change = inline(&drift.change).map_err(not_writable)?;
            format!(
                "action = \"drift-raised\"\ndrift = {{ pointer = {pointer}, change = {change} }}\n"
            )
        }
    };
    let PlannedTrouble { begins, lasts, .. } = planned;
    Ok(format!(
        "\n[[event]]\nat = \"{begins}m\"\n{what}lasts = \"{lasts}m\"\n"
    ))
}

/// Writes a value on one line.
fn inline(value: &impl Serialize) -> Result<String, toml::ser::Error> {
    let mut text = String::new();
    value.serialize(toml::ser::ValueSerializer::new(&mut text))?;
    Ok(text)
}
