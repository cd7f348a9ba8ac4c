//! What a drift does to one body, for reports.

use std::fmt;

use serde_json::Value;

use super::pen::Pen;
use super::{Drift, DriftMiss, Stage};

/// Is what was at the place of a drift, and what is there then: bytes, since a change of the
/// spelling may leave no text. `None` is nothing at all.
///
/// Of a change of the shape it is the value at the pointer (or, where a member gets another name or
/// place, of what has both), of a change of the spelling the bytes
/// of that value (or of the whole body, where more than the value is touched), of a change of the
/// form a field of the answer's head, with values of an example.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Effect {
    /// What was there.
    pub before: Option<Vec<u8>>,
    /// What is there then.
    pub after: Option<Vec<u8>>,
}

/// How many characters of each side [`fmt::Display`] shows.
const SHOWN: usize = 60;

/// How many characters that are the same on both sides stand before the first other one.
const CONTEXT: usize = 12;

pub(super) fn of(drift: &Drift, body: &Value) -> Result<Effect, DriftMiss> {
    drift.fits(body)?;
    Ok(match drift.change.stage() {
        Stage::Shape => {
            let mut after = body.clone();
            drift.apply(&mut after)?;
            let shape = drift.change.as_shape();
            let place = shape.map_or("", |shape| shape.place(&drift.pointer));
            Effect {
                before: at(body, place),
                after: at(&after, place),
            }
        }
        Stage::Spelling => spelled(drift, body)?,
        Stage::Form => {
            let fields = drift.change.as_form().map(|form| form.fields());
            let [before, after] = fields
                .unwrap_or_default()
                .map(|field| (!field.is_empty()).then(|| field.as_bytes().to_vec()));
            Effect { before, after }
        }
    })
}

fn at(body: &Value, pointer: &str) -> Option<Vec<u8>> {
    Some(body.pointer(pointer)?.to_string().into_bytes())
}

/// Writes only what is at the place, in the one way and in the other.
fn spelled(drift: &Drift, body: &Value) -> Result<Effect, DriftMiss> {
    let spelling = drift.change.as_spelling();
    let place = spelling.map_or("", |spelling| spelling.place(&drift.pointer));
    let pointer = drift.pointer.strip_prefix(place).unwrap_or_default();
    let value = Pen::new(body).value(place)?;
    let below = Drift {
        pointer: pointer.to_owned(),
        ..drift.clone()
    };
    Ok(Effect {
        before: Some(value.to_string().into_bytes()),
        after: Some(below.spell(value)?),
    })
}

impl Effect {
    /// Gives both sides in at most so many characters each, from shortly before the first one that
    /// is other. Bytes that are no UTF-8 and characters that do not show are written as in Rust:
    /// `\xff`, `\n`, `\u{feff}`. What is left out is `…`, nothing is `nothing`.
    pub fn excerpts(&self, most: usize) -> [String; 2] {
        let sides = [&self.before, &self.after].map(|side| {
            let side = side.as_deref();
            side.map(|bytes| shown(bytes).chars().collect::<Vec<char>>())
        });
        let same = match &sides {
            [Some(before), Some(after)] => {
                let pairs = before.iter().zip(after);
                pairs.take_while(|(one, other)| one == other).count()
            }
            _ => 0,
        };
        sides.map(|side| match side {
            None => "nothing".to_owned(),
            Some(side) if side.is_empty() => "no bytes".to_owned(),
            Some(side) => excerpt(&side, same, most),
        })
    }
}

fn excerpt(side: &[char], same: usize, most: usize) -> String {
    if side.len() <= most {
        return side.iter().collect();
    }
    let begin = same
        .saturating_sub(CONTEXT.min(most / 2))
        .min(side.len() - most);
    let end = begin + most;
    let mut text = String::new();
    text.extend((begin > 0).then_some('…'));
    text.extend(&side[begin..end]);
    text.extend((end < side.len()).then_some('…'));
    text
}

/// Writes bytes so that all of them can be seen.
fn shown(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        for character in chunk.valid().chars() {
            if character.is_control() || character == '\u{feff}' {
                text.extend(character.escape_default());
            } else {
                text.push(character);
            }
        }
        for byte in chunk.invalid() {
            text.push_str(&format!("\\x{byte:02x}"));
        }
    }
    text
}

impl fmt::Display for Effect {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [before, after] = self.excerpts(SHOWN);
        write!(f, "{before} -> {after}")
    }
}
