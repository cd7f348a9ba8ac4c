//! Which leaf says the phase in words, and which word is which phase.

use indexmap::IndexMap;
use serde_json::Value;

use super::guess::Words;
use super::phases::Timeline;

/// Words of the trade and of RFC 8011 (sections 5.3.7 and 5.4.11) for each phase.
const TRADE: [(&str, &[&str]); 7] = [
    (
        "idle",
        &["idle", "ready", "free", "standby", "waiting", "pending"],
    ),
    ("heating", &["heating", "preheating", "warming"]),
    (
        "printing",
        &["printing", "processing", "busy", "running", "working"],
    ),
    (
        "paused",
        &[
            "paused",
            "pause",
            "pausing",
            "held",
            "halted",
            "processing-stopped",
        ],
    ),
    (
        "error",
        &["error", "fault", "failed", "aborted", "failure", "broken"],
    ),
    ("finished", &["finished", "completed", "complete", "done"]),
    ("cancelled", &["cancelled", "canceled"]),
];

/// Gives the phase whose word of the trade this is.
fn of_trade(word: &str) -> Option<&'static str> {
    let word = word.to_lowercase();
    let found = TRADE
        .iter()
        .find(|(_, words)| words.contains(&word.as_str()));
    found.map(|(phase, _)| *phase)
}

/// Is a leaf that may say the phase.
pub(super) struct Said {
    pub(super) pointer: String,
    pub(super) words: Words,
    pub(super) confidence: f64,
    pub(super) evidence: String,
}

/// Finds the leaves whose words go with what the printer did.
pub(super) fn find(
    leaves: &IndexMap<String, Vec<Option<Value>>>,
    timeline: &Timeline,
) -> Vec<Said> {
    let said = leaves
        .iter()
        .filter_map(|(pointer, values)| said(pointer, values, timeline));
    // Below that a leaf merely changes now and then, as anything does.
    said.filter(|said| said.confidence >= 0.7).collect()
}

fn said(pointer: &str, values: &[Option<Value>], timeline: &Timeline) -> Option<Said> {
    let mut counts: IndexMap<&str, IndexMap<&'static str, usize>> = IndexMap::new();
    let mut total = 0_usize;
    for (value, phase) in values.iter().zip(timeline) {
        let word = match value {
            // Numbers as text are numbers.
            Some(value) if super::number::read(value).is_some() => return None,
            Some(Value::String(word)) if !word.is_empty() => word.as_str(),
            None | Some(Value::Null) => continue,
            Some(_) => return None,
        };
        let of_word = counts.entry(word).or_default();
        if let Some(phase) = phase {
            *of_word.entry(phase).or_default() += 1;
            total += 1;
        }
    }
    if !(2..=12).contains(&counts.len()) || total < 10 {
        return None;
    }
    let best: usize = counts
        .values()
        .map(|phases| phases.values().max().copied().unwrap_or(0))
        .sum();
    let purity = best as f64 / total as f64;
    let known = counts
        .keys()
        .filter(|word| of_trade(word).is_some())
        .count();
    let known = known as f64 / counts.len() as f64;
    let phases = phases_of(&counts);
    // A word for each of two phases at least, or it says something else.
    let different: Vec<&String> = phases.by_phase.values().map(|(word, ..)| word).collect();
    if different.iter().all(|word| *word == different[0]) {
        return None;
    }
    let mut kinds = different;
    kinds.sort_unstable();
    kinds.dedup();
    let kinds = kinds.len();
    Some(Said {
        pointer: pointer.to_owned(),
        confidence: (0.65 * purity + 0.15 * known + 0.05 * kinds.min(4) as f64).min(0.98),
        evidence: format!(
            "{} words, {:.0} % of them where temperatures and times say the same each time",
            counts.len(),
            100.0 * purity
        ),
        words: phases,
    })
}

/// Gives the word of each phase that was seen, or that a word of the trade names.
fn phases_of(counts: &IndexMap<&str, IndexMap<&'static str, usize>>) -> Words {
    let mut words = Words::default();
    for (phase, _) in TRADE {
        let seen = counts
            .iter()
            .map(|(word, phases)| (*word, phases.get(phase).copied().unwrap_or(0)));
        let total: usize = seen.clone().map(|(_, count)| count).sum();
        let most = seen
            .max_by_key(|(_, count)| *count)
            .filter(|(_, count)| *count > 0);
        let named = counts.keys().find(|word| of_trade(word) == Some(phase));
        let entry = match (most, named) {
            (Some((word, count)), named) => {
                let share = count as f64 / total as f64;
                let agrees = named.is_some_and(|named| *named == word);
                let contradicts =
                    of_trade(word).is_some_and(|other| other != phase) && named.is_some();
                let confidence = match (agrees, contradicts) {
                    (true, _) => 0.97,
                    (_, true) => 0.5,
                    _ => 0.65 + 0.3 * share * (total.min(20) as f64 / 20.0),
                };
                let word = match (contradicts, named) {
                    (true, Some(named)) => named,
                    _ => word,
                };
                (
                    word,
                    confidence,
                    format!("stands there in {count} of {total} answers of that time"),
                )
            }
            (None, Some(named)) => (*named, 0.85, "is a word of the trade for it".to_owned()),
            (None, None) => continue,
        };
        let (word, confidence, evidence) = entry;
        words
            .by_phase
            .insert(phase, (word.to_owned(), confidence, evidence));
    }
    words
}
