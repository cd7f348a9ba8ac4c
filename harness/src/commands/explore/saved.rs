//! A failing plan as a file that somebody can read and replay.

use std::path::PathBuf;

use super::super::whole_file::WholeFile;
use super::generated::Generated;
use crate::check::Check;
use crate::oracle::{Timing, Violation};
use crate::shrink::TroublePlan;

/// Writes a plan with what was seen and how to replay it, whole or not at all. Gives where it is.
pub(super) fn save(
    generated: &Generated,
    number: u32,
    plan: &TroublePlan,
    check: &Check,
    violation: &Violation,
    timing: &Timing,
) -> std::io::Result<PathBuf> {
    let file = generated.file(number);
    let comment = comment(check, violation, &generated.replay(&file, timing));
    let text = plan.text(&comment).map_err(std::io::Error::other)?;
    let mut whole = WholeFile::beside(&file)?;
    whole.put(text.as_bytes())?;
    whole.finish()?;
    Ok(file)
}

fn comment(check: &Check, violation: &Violation, replay: &str) -> String {
    let about = match &violation.subject {
        Some(subject) => format!("about     {subject}\n"),
        None => String::new(),
    };
    let text = format!(
        "A watcher failed here: {id}\n\n{about}required  {requirement}\nallowed   {allowed}\n\
         observed  {observed}\nmoment    {at:.2} s into the run\n\nTo see it again:\n{replay}\n",
        id = check.id,
        requirement = check.requirement,
        allowed = violation.allowed,
        observed = violation.observed,
        at = violation.at.as_secs_f64(),
    );
    // TOML 1.0, "Comment": control characters other than tab are not permitted; what a watcher wrote
    // may have some.
    let is_fine = |c: char| !c.is_control() || c == '\n' || c == '\t';
    text.chars().filter(|c| is_fine(*c)).collect()
}
