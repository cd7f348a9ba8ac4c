//! `[sightings]` as written -> checked [`Form`].

use coldbed_mock::sim::Phase;
use regex::Regex;

use super::error::{Text, WatcherFileError};
use super::field::{Field, Numeric, Plain, Switch, WordOfFile};
use super::raw::{self, Heater, NumericField, PlainField, Sightings};
use super::spanned::Spanned;
use crate::watcher::form::{
    Form, Kind, Lines, Missing, PhaseWords, Quantity, Raw, Rule, SwitchWords, Unit, Word, groups_of,
};

/// Alike enough to have been meant (own choice, as in scenario files).
const ALIKE: f64 = 0.8;

pub(super) fn form(text: &Text<'_>, raw: &Sightings) -> Result<Form, WatcherFileError> {
    let lines = lines(text, raw)?;
    let mut checker = Checker {
        text,
        lines: &lines,
        used: Vec::new(),
        rules: Vec::new(),
    };
    checker.fields(raw)?;
    let Checker { used, rules, .. } = checker;
    let phases = phases(text, raw, &lines, &rules)?;
    match &lines {
        Lines::Standard => nothing_mapped(text, raw)?,
        _ if rules.is_empty() => {
            let byte = raw.lines.as_ref().map_or(0, |lines| lines.span().start);
            let problem = "is empty, so no line could say anything";
            return Err(text.error(byte, "sightings.fields", problem));
        }
        Lines::Json => {}
        Lines::Patterns(patterns) => every_group_is_used(text, raw, patterns, &used)?,
    }
    let unknown = raw.unknown.iter().flat_map(|words| words.get_ref());
    Ok(Form {
        lines,
        rules,
        phases,
        unknown: unknown.map(|word| word.0.clone()).collect(),
        missing: match raw.missing.as_ref().map(|missing| *missing.get_ref()) {
            None | Some(raw::Missing::Unknown) => Missing::Unknown,
            Some(raw::Missing::Stands) => Missing::Stands,
        },
    })
}

fn lines(text: &Text<'_>, raw: &Sightings) -> Result<Lines, WatcherFileError> {
    let compile = |field: String, pattern: &Spanned<String>| {
        Regex::new(pattern.get_ref()).map_err(|error| {
            let problem = format!("cannot be read as a pattern\n{error}");
            text.error(pattern.span().start, field, problem)
        })
    };
    Ok(match raw.lines.as_ref().map(|lines| lines.get_ref()) {
        None | Some(raw::Lines::Standard) => Lines::Standard,
        Some(raw::Lines::Json) => Lines::Json,
        Some(raw::Lines::Pattern(pattern)) => {
            let pattern = compile("sightings.lines.pattern".to_owned(), pattern)?;
            Lines::Patterns(vec![pattern])
        }
        Some(raw::Lines::Patterns(patterns)) => {
            let patterns = patterns.iter().enumerate().map(|(place, pattern)| {
                compile(format!("sightings.lines.patterns[{place}]"), pattern)
            });
            Lines::Patterns(patterns.collect::<Result<_, _>>()?)
        }
    })
}

/// Refuses what the standard form has no use for.
fn nothing_mapped(text: &Text<'_>, raw: &Sightings) -> Result<(), WatcherFileError> {
    let missing = raw.missing.as_ref().map(|it| ("missing", it.span().start));
    let unknown = raw.unknown.as_ref().map(|it| ("unknown", it.span().start));
    match missing.or(unknown) {
        None => Ok(()),
        Some((key, byte)) => Err(text.error(byte, format!("sightings.{key}"), IS_STANDARD)),
    }
}

const IS_STANDARD: &str = "has no meaning where lines are in the standard form [write \
                           lines = \"json\", or lines = { pattern = '…' }]";

fn every_group_is_used(
    text: &Text<'_>,
    raw: &Sightings,
    patterns: &[Regex],
    used: &[String],
) -> Result<(), WatcherFileError> {
    let unused = |pattern: &Regex| {
        groups_of(pattern)
            .find(|group| !used.iter().any(|used| used == group))
            .map(str::to_owned)
    };
    let places: Vec<usize> = match raw.lines.as_ref().map(|lines| lines.get_ref()) {
        Some(raw::Lines::Pattern(pattern)) => vec![pattern.span().start],
        Some(raw::Lines::Patterns(patterns)) => patterns.iter().map(|it| it.span().start).collect(),
        _ => Vec::new(),
    };
    for (pattern, byte) in patterns.iter().zip(places) {
        if groups_of(pattern).next().is_none() {
            let problem = format!("`{pattern}` has no named group, so it would say nothing");
            return Err(text.error(byte, "sightings.lines", problem));
        }
        if let Some(group) = unused(pattern) {
            let problem = format!(
                "no field is at the group `{group}` [name it under sightings.fields or \
                 sightings.heaters, or write (?:…)]"
            );
            return Err(text.error(byte, "sightings.lines", problem));
        }
    }
    Ok(())
}

struct Checker<'a> {
    text: &'a Text<'a>,
    lines: &'a Lines,
    used: Vec<String>,
    rules: Vec<Rule>,
}

impl Checker<'_> {
    fn fields(&mut self, raw: &Sightings) -> Result<(), WatcherFileError> {
        let fields = &raw.fields;
        self.plain(Quantity::Phase, Kind::Phase, &fields.phase)?;
        for (name, heater) in &raw.heaters {
            self.heater(name, heater)?;
        }
        self.number(Quantity::Progress, &fields.progress_percent)?;
        self.number(Quantity::Elapsed, &fields.elapsed_seconds)?;
        self.number(Quantity::Remaining, &fields.remaining_seconds)?;
        self.plain(Quantity::JobName, Kind::Text, &fields.job_name)?;
        self.plain(Quantity::Reason, Kind::Text, &fields.reason)?;
        self.switch(Quantity::Safe, fields.safe_to_touch.as_ref())
    }

    fn heater(&mut self, name: &str, heater: &Heater) -> Result<(), WatcherFileError> {
        self.number(Quantity::Actual(name.to_owned()), &heater.actual_celsius)?;
        self.number(Quantity::Target(name.to_owned()), &heater.target_celsius)?;
        self.switch(Quantity::On(name.to_owned()), heater.on.as_ref())
    }

    fn switch(
        &mut self,
        quantity: Quantity,
        field: Option<&Spanned<Field<Switch>>>,
    ) -> Result<(), WatcherFileError> {
        let Some(field) = field else {
            return Ok(());
        };
        let more = field.get_ref().more.as_ref();
        let words = match more.and_then(|more: &Switch| more.words.as_ref()) {
            None => SwitchWords::default(),
            Some(words) => SwitchWords {
                on: all(&words.on),
                off: all(&words.off),
            },
        };
        if let Some(both) = words
            .on
            .iter()
            .find(|on| words.off.iter().any(|off| same(on, off)))
        {
            let problem = format!("`{both}` says both on and off");
            return Err(self.text.error(field.span().start, key(&quantity), problem));
        }
        let unknown = more.map_or_else(Vec::new, |more| all(&more.unknown));
        self.rule(quantity, Kind::Switch(words), field, unknown)
    }

    fn plain(
        &mut self,
        quantity: Quantity,
        kind: Kind,
        field: &PlainField,
    ) -> Result<(), WatcherFileError> {
        let Some(field) = field else { return Ok(()) };
        let more: Option<&Plain> = field.get_ref().more.as_ref();
        let unknown = more.map_or_else(Vec::new, |more| all(&more.unknown));
        self.rule(quantity, kind, field, unknown)
    }

    fn number<U: Copy>(
        &mut self,
        quantity: Quantity,
        field: &NumericField<U>,
    ) -> Result<(), WatcherFileError>
    where
        Unit: From<Option<U>>,
    {
        let Some(field) = field else { return Ok(()) };
        let more: Option<&Numeric<U>> = field.get_ref().more.as_ref();
        let unit = Unit::from(more.and_then(|more| more.unit));
        let unknown = more.map_or_else(Vec::new, |more| all(&more.unknown));
        self.rule(quantity, Kind::Number(unit), field, unknown)
    }

    fn rule<T>(
        &mut self,
        quantity: Quantity,
        kind: Kind,
        field: &Spanned<Field<T>>,
        unknown: Vec<Word>,
    ) -> Result<(), WatcherFileError> {
        let at = field.get_ref().at.clone();
        self.place(&at)
            .map_err(|problem| self.text.error(field.span().start, key(&quantity), problem))?;
        self.used.push(at.clone());
        self.rules.push(Rule {
            quantity,
            at,
            kind,
            unknown,
        });
        Ok(())
    }

    /// Checks a place; an error is what is wrong with it.
    fn place(&self, at: &str) -> Result<(), String> {
        let patterns = match self.lines {
            Lines::Standard => return Err(IS_STANDARD.to_owned()),
            Lines::Json if is_pointer(at) => return Ok(()),
            Lines::Json => {
                // RFC 6901 section 4: a tilde itself is written `~0`.
                let meant = at.trim_start_matches('/').replace('~', "~0");
                return Err(format!(
                    "`{at}` is no JSON Pointer (RFC 6901 section 3) [such as /{meant}]"
                ));
            }
            Lines::Patterns(patterns) => patterns,
        };
        let groups: Vec<&str> = patterns.iter().flat_map(groups_of).collect();
        if groups.contains(&at) {
            return Ok(());
        }
        let hint = match near_miss(at, &groups) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None if groups.is_empty() => "a group is written (?<name>…)".to_owned(),
            None => format!("groups: {}", groups.join(", ")),
        };
        Err(format!("no pattern has a group `{at}` [{hint}]"))
    }
}

/// Gives the key of a quantity in the file.
fn key(quantity: &Quantity) -> String {
    let table = match quantity {
        Quantity::Actual(_) | Quantity::Target(_) | Quantity::On(_) => "heaters",
        _ => "fields",
    };
    format!("sightings.{table}.{quantity}")
}

/// Tells whether text is a JSON Pointer (RFC 6901 section 3).
fn is_pointer(text: &str) -> bool {
    let mut after_tildes = text.split('~').skip(1);
    (text.is_empty() || text.starts_with('/'))
        && after_tildes.all(|rest| rest.starts_with(['0', '1']))
}

fn near_miss<'a>(word: &str, candidates: &[&'a str]) -> Option<&'a str> {
    candidates
        .iter()
        .map(|candidate| (strsim::jaro_winkler(word, candidate), *candidate))
        .filter(|(likeness, _)| *likeness > ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

fn all(words: &[WordOfFile]) -> Vec<Word> {
    words.iter().map(|word| word.0.clone()).collect()
}

fn phases(
    text: &Text<'_>,
    raw: &Sightings,
    lines: &Lines,
    rules: &[Rule],
) -> Result<PhaseWords, WatcherFileError> {
    let words = &raw.words;
    let tables = [
        (Some(Phase::Idle), &words.idle),
        (Some(Phase::Heating), &words.heating),
        (Some(Phase::Printing), &words.printing),
        (Some(Phase::Paused), &words.paused),
        (Some(Phase::Error), &words.error),
        (Some(Phase::Finished), &words.finished),
        (Some(Phase::Cancelled), &words.cancelled),
        (None, &words.unknown),
    ];
    let has_phase = matches!(lines, Lines::Standard)
        || rules.iter().any(|rule| rule.quantity == Quantity::Phase);
    let mut taken: Vec<(Word, Option<Phase>)> = Vec::new();
    for (phase, words) in tables {
        let name = |phase: Option<Phase>| phase.map_or("unknown", Phase::word);
        for spanned in words {
            let field = || format!("sightings.words.{}", name(phase));
            if !has_phase {
                let problem = "no field `phase` is mapped, so no word would be read";
                return Err(text.error(spanned.span().start, field(), problem));
            }
            let word = &spanned.get_ref().0;
            let mut unknown = raw.unknown.iter().flat_map(|words| words.get_ref());
            if phase.is_some() && unknown.any(|unknown| same(&unknown.0, word)) {
                let problem = format!("`{word}` is in sightings.unknown too");
                return Err(text.error(spanned.span().start, field(), problem));
            }
            if let Some((_, other)) = taken.iter().find(|(of, at)| same(of, word) && *at != phase) {
                let problem = format!("`{word}` is a word for {} too", name(*other));
                return Err(text.error(spanned.span().start, field(), problem));
            }
            taken.push((word.clone(), phase));
        }
    }
    Ok(PhaseWords::new(taken))
}

/// Tells whether some value would be both words.
fn same(one: &Word, other: &Word) -> bool {
    let raw = match other {
        Word::Text(text) => Raw::text(text),
        Word::Number(number) => Raw::Number(*number),
        Word::Flag(flag) => Raw::Flag(*flag),
    };
    one.is(&raw)
}
