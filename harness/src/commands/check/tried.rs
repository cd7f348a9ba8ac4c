//! What a trial tells: each line as it was understood, and all of them summed up. Pure.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::time::Duration;

use coldbed_mock::sim::{JobTruth, Truth};
use indexmap::IndexMap;

use crate::watcher::{Claim, Finding, Form, Quantity, Reading, Said, Told};

/// Longer lines are shown cut (own choice: three lines of a terminal).
const SHOWN: usize = 240;

/// Counts what was understood so far.
#[derive(Debug, Default)]
pub(super) struct Tried {
    lines: usize,
    sightings: usize,
    fields: BTreeMap<Quantity, Count>,
    /// The words there are, with the phase that each says and how often it was read.
    words: IndexMap<String, (&'static str, usize)>,
    /// What was not understood, how often, and the first line it was said of.
    problems: IndexMap<String, (usize, String)>,
}

#[derive(Debug, Default)]
struct Count {
    values: usize,
    unknown: usize,
}

impl Tried {
    /// Begins with the fields and words that are looked for.
    pub(super) fn new(form: Option<&Form>) -> Self {
        let mut tried = Self::default();
        if let Some(form) = form {
            let fields = form.rules.iter().map(|rule| rule.quantity.clone());
            tried.fields = fields.map(|field| (field, Count::default())).collect();
            if form.reads_phase() {
                let words = form.phases.each();
                tried.words = words.map(|(word, phase)| (word, (phase, 0))).collect();
            }
        }
        tried
    }

    pub(super) fn sightings(&self) -> usize {
        self.sightings
    }

    /// Counts what was told and writes it, with what is true of the mock now.
    pub(super) fn told(&mut self, at: Duration, told: &Told, truth: &Truth) -> String {
        let mut out = format!("{:7.1} s  ", at.as_secs_f64());
        // Writing to a string cannot fail, here and below.
        let _ = match told {
            Told::Line {
                reading: Some(reading),
                text,
                ..
            } => {
                let _ = writeln!(out, "{}", plain(text));
                self.read(&mut out, text, reading, truth);
                Ok(())
            }
            Told::Line {
                on_stderr, text, ..
            } => {
                let stream = if *on_stderr { "stderr" } else { "stdout" };
                writeln!(out, "({stream}) {}", plain(text))
            }
            Told::Sighting(sighting) => {
                self.lines += 1;
                self.sightings += 1;
                writeln!(out, "{}", plain(&sighting.to_line()))
            }
            Told::Exited(how) => writeln!(out, "the watcher ended: {how}"),
        };
        out
    }

    fn read(&mut self, out: &mut String, text: &str, reading: &Reading, truth: &Truth) {
        self.lines += 1;
        self.sightings += usize::from(reading.sighting.is_some());
        for finding in &reading.findings {
            self.count(text, finding);
            let from = finding
                .raw
                .as_deref()
                .map_or_else(String::new, |raw| format!("from `{}`", plain(raw)));
            let _ = writeln!(
                out,
                "           {:26} {:14} {from:22} mock: {}",
                finding.quantity,
                plain(&finding.said.to_string()),
                served(&finding.quantity, truth)
            );
            if let Some(problem) = &finding.problem {
                let _ = writeln!(out, "           {:26} ! {}", "", plain(problem));
            }
        }
        for note in &reading.notes {
            self.problem(note, text);
            let what = match reading.sighting {
                Some(_) => "!",
                None => "no sighting:",
            };
            let _ = writeln!(out, "           {what} {}", plain(note));
        }
    }

    fn count(&mut self, text: &str, finding: &Finding) {
        let count = self.fields.entry(finding.quantity.clone()).or_default();
        if finding.said.is_value() {
            count.values += 1;
        } else if finding.said.is_something() {
            count.unknown += 1;
        }
        if let (Quantity::Phase, Some(raw)) = (&finding.quantity, &finding.raw)
            && let Some((_, read)) = self.words.get_mut(raw)
        {
            *read += 1;
        }
        if let Some(problem) = &finding.problem {
            self.problem(&format!("{}: {problem}", finding.quantity), text);
        }
    }

    fn problem(&mut self, problem: &str, text: &str) {
        let seen = self.problems.entry(problem.to_owned());
        seen.or_insert_with(|| (0, text.to_owned())).0 += 1;
    }

    /// Sums up.
    pub(super) fn summary(&self) -> String {
        let mut out = format!(
            "\n{}, {}\n",
            counted(self.lines, "line"),
            counted(self.sightings, "sighting")
        );
        for (field, count) in &self.fields {
            let _ = write!(out, "  {field:26} ");
            let _ = match (count.values, count.unknown) {
                (0, 0) => writeln!(out, "never"),
                (values, 0) => writeln!(out, "{}", counted(values, "value")),
                (0, unknown) => writeln!(out, "only unknown, {unknown} times"),
                (values, unknown) => writeln!(
                    out,
                    "{}, and unknown {}",
                    counted(values, "value"),
                    counted(unknown, "time")
                ),
            };
        }
        self.sum_up_words(&mut out);
        if !self.problems.is_empty() {
            out += "not understood:\n";
        }
        for (problem, (count, text)) in &self.problems {
            let _ = writeln!(
                out,
                "  {:8} {}\n           first in `{}`",
                counted(*count, "time"),
                plain(problem),
                plain(text)
            );
        }
        out
    }

    fn sum_up_words(&self, out: &mut String) {
        let mut row = |title: &str, wanted: &dyn Fn(usize) -> bool| {
            let words = self.words.iter().filter(|(_, (_, read))| wanted(*read));
            let words: Vec<String> = words
                .map(|(word, (phase, _))| match plain(word) {
                    word if word == *phase => word,
                    word => format!("{word} ({phase})"),
                })
                .collect();
            if !words.is_empty() {
                let _ = writeln!(out, "{title}: {}", words.join(", "));
            }
        };
        row("phase words read", &|read| read > 0);
        row("phase words never read", &|read| read == 0);
    }
}

/// Says what is true of the mock now, in the words of a watcher file.
fn served(quantity: &Quantity, truth: &Truth) -> String {
    let number = |number: Option<f64>| {
        let said = Said::Number(number.map_or(Claim::Unknown, Claim::Value));
        said.to_string()
    };
    let job = |of_job: &dyn Fn(&JobTruth) -> String| {
        truth
            .job
            .as_ref()
            .map_or_else(|| "no job".to_owned(), of_job)
    };
    let heater = |name: &str| truth.heaters.get(name);
    let no_heater = || {
        let names: Vec<&str> = truth.heaters.keys().map(String::as_str).collect();
        format!("has no such heater, but {}", names.join(", "))
    };
    match quantity {
        Quantity::Phase => truth.phase.to_string(),
        Quantity::Actual(name) => {
            heater(name).map_or_else(no_heater, |heater| number(heater.actual_celsius))
        }
        Quantity::Target(name) => {
            heater(name).map_or_else(no_heater, |heater| number(Some(heater.target_celsius)))
        }
        Quantity::On(name) => heater(name).map_or_else(no_heater, |heater| {
            Said::Switch(Claim::Value(heater.on)).to_string()
        }),
        Quantity::Progress => job(&|job| number(Some(job.progress_percent))),
        Quantity::Elapsed => job(&|job| number(Some(job.elapsed_seconds))),
        Quantity::Remaining => job(&|job| number(job.remaining_seconds)),
        Quantity::JobName => job(&|job| job.name.clone()),
        Quantity::Reason if truth.printer.reasons.is_empty() => "none".to_owned(),
        Quantity::Reason => truth.printer.reasons.join(", "),
        Quantity::Safe => Said::Switch(Claim::Value(truth.safe_to_touch)).to_string(),
    }
}

/// Writes text of a stranger so that it cannot steer the terminal, and not too much of it.
fn plain(text: &str) -> String {
    let mut shown = String::new();
    for letter in text.chars().take(SHOWN) {
        if letter.is_control() {
            shown.extend(letter.escape_default());
        } else {
            shown.push(letter);
        }
    }
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        several => format!("{several} {what}s"),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use coldbed_mock::sim::{Simulation, VirtualTime};

    use super::*;
    use crate::watcher::{Reader, WatcherFile};

    const FILE: &str = r#"
command = ["show"]
[sightings]
lines = "json"
unknown = ["--"]
[sightings.fields]
phase = "/state"
progress-percent = { at = "/part", unit = "ratio" }
remaining-seconds = { at = "/left", unit = "minutes" }
reason = "/why"
[sightings.heaters.extruder]
actual-celsius = { at = "/now", unit = "fahrenheit" }
[sightings.heaters.bed]
target-celsius = "/aim"
[sightings.words]
heating = ["WARM"]
printing = ["BUSY"]
"#;

    #[test]
    fn a_trial_tells_what_is_understood_what_is_not_and_sums_it_up() {
        let file = WatcherFile::parse("watcher.toml", FILE).unwrap();
        let form = Arc::clone(file.form());
        let mut simulation = Simulation::new(crate::check::scenario("heat-up"), 1);
        let truth = simulation.truth_at(VirtualTime::new(Duration::from_secs(60)));
        let mut reader = Reader::new(Arc::clone(&form));
        let mut tried = Tried::new(Some(&form));
        let mut shown = String::new();
        for line in [
            "booting \u{1b}[31mred",
            r#"{"state":"WARM","part":0.005,"left":"--","now":212,"aim":60}"#,
            r#"{"state":"HOT","part":"half","left":90}"#,
            r#"{"level":"info"}"#,
        ] {
            let told = Told::Line {
                on_stderr: false,
                text: line.to_owned(),
                reading: Some(Box::new(reader.read(line))),
            };
            shown += &tried.told(Duration::from_millis(1500), &told, &truth);
        }
        let elsewhere = Told::Line {
            on_stderr: true,
            text: "a warning".to_owned(),
            reading: None,
        };
        shown += &tried.told(Duration::from_secs(2), &elsewhere, &truth);
        let end = Told::Exited("exit status: 1".to_owned());
        shown += &tried.told(Duration::from_secs(3), &end, &truth);
        assert_eq!(tried.sightings(), 2);
        insta::assert_snapshot!(shown + &tried.summary());
    }
}
