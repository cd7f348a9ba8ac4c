//! Words that are missing from a table, or misspelt, and tables that nothing uses.

use indexmap::IndexMap;

use super::Warning;
use super::document::Document;
use super::sets::Set;
use super::uses::Uses;
use crate::dialect::file::Whole;

/// Looks at the word tables of one version.
pub(super) fn look(
    document: &Document<'_>,
    uses: &Uses,
    whole: &Whole<'_>,
    warnings: &mut Vec<Warning>,
) {
    for (name, table) in tables(whole) {
        if !uses.has_table(name) {
            let message = "no expression uses this table".to_owned();
            warnings.push(document.warning(table.last, &[name], message));
            continue;
        }
        let keys: Vec<&str> = table.words.keys().copied().collect();
        let Some(set) = Set::of(&keys) else {
            continue;
        };
        for (&key, layer) in &table.words {
            if !set.has(key) && !uses.has_word(name, key) {
                let hint = set
                    .nearest(key)
                    .map_or_else(String::new, |near| format!(" (did you mean `{near}`?)"));
                let message = format!("is none of the {}{hint}", set.name);
                warnings.push(document.warning(layer, &[name, key], message));
            }
        }
        let missing: Vec<String> = set
            .words
            .iter()
            .filter(|word| !keys.contains(&word.as_str()))
            .map(|word| format!("`{word}`"))
            .collect();
        if !missing.is_empty() && !uses.covers(name) {
            let message = format!(
                "of the {}, {} {} missing [or let every expression that uses the table have a \
                 `default(…)`]",
                set.name,
                missing.join(", "),
                if missing.len() == 1 { "is" } else { "are" }
            );
            warnings.push(document.warning(table.last, &[name], message));
        }
    }
}

/// Is one table, its layers put over each other.
#[derive(Default)]
struct Words<'a> {
    /// The words, each with the field of the layer it is from.
    words: IndexMap<&'a str, &'a str>,
    /// The field of the last layer that says something about it.
    last: &'a str,
}

fn tables<'a>(whole: &'a Whole<'_>) -> IndexMap<&'a str, Words<'a>> {
    let mut tables: IndexMap<&str, Words<'_>> = IndexMap::new();
    for layer in &whole.words {
        for (name, words) in layer.written {
            let table = tables.entry(name).or_default();
            table.last = &layer.field;
            let words = words.get_ref().keys();
            table
                .words
                .extend(words.map(|word| (word.as_str(), layer.field.as_str())));
        }
    }
    tables
}
