//! A text from the corpus.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::change::{Kind, Spelling};
use crate::drift::corpus::{CorpusEntry, CorpusVerdict};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;
use crate::drift::{DriftClass, corpus};

/// Writes a text from the corpus instead of the value at the pointer, which is the whole body or a
/// member of an object; or, with a name, as one more member of the object at the pointer.
///
/// A text that a parser must accept, in a member that nobody told the client about, is compatible:
/// the rest is as ever. In the place of a value it is breaking, since it says something else. A text
/// that is no JSON, and one that a parser may refuse, is hostile in either place.
///
/// # Source
/// RFC 8259 section 9: a parser must accept all texts of the grammar, may accept others, and may set
/// limits; the entry names the section of its own rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Corpus {
    /// The entry's name: `number-leading-zero`.
    pub entry: String,
    /// The name of the member it is the value of. Without it, it stands in the place of the value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub member: Option<String>,
}

impl Corpus {
    fn entry(&self) -> Result<&'static CorpusEntry, DriftMiss> {
        corpus::entry(&self.entry).ok_or_else(|| DriftMiss::NoEntry {
            entry: self.entry.clone(),
        })
    }
}

impl Kind for Corpus {
    fn class(&self) -> DriftClass {
        let verdict = self.entry().map(|entry| entry.verdict);
        match (verdict, &self.member) {
            (Ok(CorpusVerdict::Accept), Some(_)) => DriftClass::Compatible,
            (Ok(CorpusVerdict::Accept), None) => DriftClass::Breaking,
            _ => DriftClass::Hostile,
        }
    }

    fn explain(&self, place: &str) -> String {
        let section = match self.entry() {
            Ok(entry) => format!(" (RFC 8259 section {})", entry.section),
            Err(_) => String::new(),
        };
        let entry = &self.entry;
        match &self.member {
            None => format!("{place} is the text `{entry}` of the corpus{section}"),
            Some(member) => format!(
                "{place} has one more member, `{member}`, with the text `{entry}` of the \
                 corpus{section}"
            ),
        }
    }

    fn check(&self) -> Result<(), DriftMiss> {
        self.entry().map(|_| ())
    }
}

impl Spelling for Corpus {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let bytes = self.entry()?.bytes.clone();
        let Some(member) = &self.member else {
            // Not an element: some texts that are none become one between two commas.
            let mark = match pointer {
                "" => pen.mark_any(pointer)?,
                _ => pen.mark_member(pointer)?,
            };
            mark.instead = Some(bytes);
            return Ok(());
        };
        if pen.value(pointer)?.get(member).is_some() {
            return Err(DriftMiss::Taken {
                pointer: pointer.to_owned(),
                member: member.clone(),
            });
        }
        let mark = pen.mark(pointer, "an object", Value::is_object)?;
        mark.last.push((member.clone(), bytes));
        Ok(())
    }
}
