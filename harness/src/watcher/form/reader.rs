//! Reading lines one after the other.

use std::sync::Arc;

use regex::{Captures, Regex};
use serde_json::{Map, Value};

use super::rule::{Rule, groups_of};
use super::{Finding, PhaseWords, Quantity, Raw, Reading, Said, Word};
use crate::watcher::standard::MEMBERS;
use crate::watcher::{Claim, PhaseClaim, Sighting};

/// Says how the lines of one watcher are understood.
#[derive(Debug, Clone, Default)]
pub(crate) struct Form {
    /// What a line is.
    pub(crate) lines: Lines,
    /// Where each quantity stands.
    pub(crate) rules: Vec<Rule>,
    /// The words for each phase.
    pub(crate) phases: PhaseWords,
    /// What says for any quantity that the watcher does not know it.
    pub(crate) unknown: Vec<Word>,
    /// What it says when the place of a quantity is not there.
    pub(crate) missing: Missing,
}

/// Says what a line is.
#[derive(Debug, Clone, Default)]
pub(crate) enum Lines {
    /// A sighting in the standard form, whole in each line.
    #[default]
    Standard,
    /// A JSON object; the rules have pointers.
    Json,
    /// Text; the rules have groups of these patterns. All that match count.
    Patterns(Vec<Regex>),
}

/// Says what it means that the place of a quantity is not in a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Missing {
    /// The watcher does not know the quantity.
    #[default]
    Unknown,
    /// The line says nothing of it: what was said before stands.
    Stands,
}

/// Reads lines, and keeps what stands after each.
#[derive(Debug)]
pub(crate) struct Reader {
    form: Arc<Form>,
    standing: Sighting,
}

impl Reader {
    /// Begins with nothing known.
    pub(crate) fn new(form: Arc<Form>) -> Self {
        Self {
            form,
            standing: Sighting::default(),
        }
    }

    /// Reads a line.
    pub(crate) fn read(&mut self, line: &str) -> Reading {
        let form = Arc::clone(&self.form);
        match &form.lines {
            Lines::Standard => form.standard(line),
            Lines::Json => match form.json(line) {
                // An object in which nothing is there is another kind of line, such as a log's.
                Ok(findings) if findings.iter().all(|finding| finding.raw.is_none()) => {
                    Reading::none("nothing that is looked for is in it")
                }
                Ok(findings) => self.lay_over(findings),
                Err(note) => Reading::none(note),
            },
            Lines::Patterns(patterns) => {
                let findings = form.matched(patterns, line);
                // A pattern that matches has a group at least, which says something.
                if findings.is_empty() {
                    Reading::none("no pattern matches")
                } else {
                    self.lay_over(findings)
                }
            }
        }
    }

    fn lay_over(&mut self, findings: Vec<Finding>) -> Reading {
        // A display that says that it knows nothing does not show the rest as live any more.
        let knows_nothing = |finding: &Finding| finding.said == Said::Phase(Claim::Unknown);
        if findings.iter().any(knows_nothing) {
            self.standing.withdraw();
        }
        for finding in &findings {
            finding.lay_over(&mut self.standing);
        }
        Reading {
            findings,
            notes: Vec::new(),
            sighting: Some(self.standing.clone()),
        }
    }
}

impl Form {
    /// Tells whether a phase is looked for.
    pub(crate) fn reads_phase(&self) -> bool {
        let mut rules = self.rules.iter();
        matches!(self.lines, Lines::Standard) || rules.any(|rule| rule.quantity == Quantity::Phase)
    }

    fn json(&self, line: &str) -> Result<Vec<Finding>, String> {
        let value: Value =
            serde_json::from_str(line).map_err(|error| format!("no JSON: {error}"))?;
        if !value.is_object() {
            return Err("no JSON object".to_owned());
        }
        let finding = |rule: &Rule| match value.pointer(&rule.at) {
            Some(value) => self.found(rule, &Raw::from(value)),
            None => self.not_there(rule),
        };
        Ok(self.rules.iter().map(finding).collect())
    }

    fn matched(&self, patterns: &[Regex], line: &str) -> Vec<Finding> {
        let matched: Vec<(&Regex, Captures<'_>)> = patterns
            .iter()
            .filter_map(|pattern| Some((pattern, pattern.captures(line)?)))
            .collect();
        let finding = |rule: &Rule| {
            let mut groups = matched.iter().filter_map(|(_, found)| found.name(&rule.at));
            if let Some(group) = groups.next() {
                return Some(self.found(rule, &Raw::text(group.as_str())));
            }
            // A pattern that does not have the group at all says nothing of it.
            let mut patterns = matched.iter().flat_map(|(pattern, _)| groups_of(pattern));
            patterns
                .any(|group| group == rule.at)
                .then(|| self.not_there(rule))
        };
        self.rules.iter().filter_map(finding).collect()
    }

    fn found(&self, rule: &Rule, raw: &Raw) -> Finding {
        let (said, problem) = rule.read(raw, &self.phases, &self.unknown);
        Finding {
            quantity: rule.quantity.clone(),
            raw: Some(raw.to_string()),
            said,
            problem,
        }
    }

    fn not_there(&self, rule: &Rule) -> Finding {
        let (said, problem) = match self.missing {
            Missing::Unknown => {
                let problem = format!("`{}` is not there", rule.at);
                (rule.kind.unknown(), Some(problem))
            }
            Missing::Stands => (rule.kind.nothing(), None),
        };
        Finding {
            quantity: rule.quantity.clone(),
            raw: None,
            said,
            problem,
        }
    }

    fn standard(&self, line: &str) -> Reading {
        let value: Value = match serde_json::from_str(line) {
            Ok(value) => value,
            Err(error) => return Reading::none(format!("no JSON: {error}")),
        };
        let Some(object) = value.as_object() else {
            return Reading::none("no JSON object");
        };
        let Some(mut sighting) = Sighting::from_object(object) else {
            return Reading::none("no member of the standard form is in it");
        };
        if let Some(phase) = object.get("phase") {
            sighting.phase = self.phases.read(&Raw::from(phase));
        }
        Reading {
            findings: standard_findings(object, &sighting),
            notes: strange_members(object),
            sighting: Some(sighting),
        }
    }
}

/// Tells of a sighting in the standard form field by field.
fn standard_findings(object: &Map<String, Value>, sighting: &Sighting) -> Vec<Finding> {
    let of_heaters = sighting.heaters.iter().flat_map(|(name, heater)| {
        let number = |claim: &Claim<f64>| Said::Number(claim.clone());
        [
            (
                Quantity::Actual(name.clone()),
                number(&heater.actual_celsius),
            ),
            (
                Quantity::Target(name.clone()),
                number(&heater.target_celsius),
            ),
            (Quantity::On(name.clone()), Said::Switch(heater.on.clone())),
        ]
    });
    let number = |claim: &Claim<f64>| Said::Number(claim.clone());
    let text = |claim: &Claim<String>| Said::Text(claim.clone());
    let all = std::iter::once((Quantity::Phase, Said::Phase(sighting.phase.clone())))
        .chain(of_heaters)
        .chain([
            (Quantity::Progress, number(&sighting.progress_percent)),
            (Quantity::Elapsed, number(&sighting.elapsed_seconds)),
            (Quantity::Remaining, number(&sighting.remaining_seconds)),
            (Quantity::JobName, text(&sighting.job_name)),
            (Quantity::Reason, text(&sighting.reason)),
            (Quantity::Safe, Said::Switch(sighting.safe_to_touch.clone())),
        ]);
    all.filter(|(_, said)| said.is_something())
        .map(|(quantity, said)| {
            let raw = standard_value(object, &quantity).map(Raw::from);
            let problem = standard_problem(raw.as_ref(), &said);
            Finding {
                quantity,
                raw: raw.map(|raw| raw.to_string()),
                said,
                problem,
            }
        })
        .collect()
}

fn standard_value<'v>(object: &'v Map<String, Value>, quantity: &Quantity) -> Option<&'v Value> {
    let heater = |name: &str, member: &str| object.get("heaters")?.get(name)?.get(member);
    match quantity {
        Quantity::Actual(name) => heater(name, "actual-celsius"),
        Quantity::Target(name) => heater(name, "target-celsius"),
        Quantity::On(name) => heater(name, "on"),
        quantity => object.get(&quantity.to_string()),
    }
}

fn standard_problem(raw: Option<&Raw>, said: &Said) -> Option<String> {
    let raw = raw.filter(|raw| **raw != Raw::Nothing)?;
    match said {
        Said::Phase(Claim::Value(PhaseClaim::Other(word))) => Some(format!(
            "the word `{word}` is not known [add it to sightings.words]"
        )),
        Said::Number(Claim::Unknown) => Some(format!("`{raw}` is no JSON number")),
        Said::Switch(Claim::Unknown) => Some(format!("`{raw}` is neither true nor false")),
        Said::Text(Claim::Unknown) => Some(format!("`{raw}` is no JSON string")),
        _ => None,
    }
}

fn strange_members(object: &Map<String, Value>) -> Vec<String> {
    object
        .keys()
        .filter(|name| !MEMBERS.contains(&name.as_str()))
        .map(|name| format!("member `{name}` is none of the standard form"))
        .collect()
}
