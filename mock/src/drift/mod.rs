//! Changes of a body against its dialect: what a host update does to a client.
//!
//! A [`Drift`] is a value: where, what, and what it may do to a client. Raised on a
//! [`DriftBoard`], it is applied to every answer until its guard is dropped. There are three
//! stages: changes of the *shape* make another JSON value, then changes of the *spelling* write
//! that value in another way, or as bytes that are no JSON, and changes of the *form* carry those
//! bytes in another way.
//!
//! Owns: the changes, their explanations, the board, the writer, the corpus of texts that are JSON
//! and that are none.
//! Does not own: dialects (a drift knows only JSON), sockets, and verdicts about clients.
//!
//! A further kind of change is one file in `change/`, one row in its list, and one example in
//! `tests/examples.toml`; `docs/drifts.md` is made from these.

mod board;
mod change;
mod corpus;
mod effect;
mod form;
#[cfg(any(test, feature = "generate"))]
pub mod generate;
mod pen;
mod spot;
mod written;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use board::{DriftBoard, DriftChange, DriftGuard};
pub use change::{
    AddMember, AppendElement, Blank, ByteOrderMark, Change, Chunked, Corpus, DecimalPoint, Deep,
    DeepenUnknown, DuplicateMember, EmptyBody, EscapedNames, ExponentNumbers, FieldNames, Garbage,
    Gzip, HugeNumber, Indented, InvalidUtf8, LoneSurrogate, MoveMember, NonAsciiEscaped,
    NotANumber, NumberAsText, ObjectAsArray, Pad, Position, PrependElement, RemoveMember,
    RenameMember, ReplaceByNull, ReplaceValue, ReverseMembers, Scale, SortMembers, Spaced,
    SurrogateHalf, SurrogatePlace, TextAsNumber, TrailingComma, TrailingText, Truncated,
    ValueAsObject,
};
pub use corpus::{CorpusEntry, CorpusVerdict, corpus};
pub use effect::Effect;
pub use form::{FieldCase, FormChange, recase};
pub use spot::DriftMiss;

use pen::Pen;
use spot::Spot;

/// Is a change of a body.
///
/// As a file has it, `pointer`, `name` and `class` may be left out:
///
/// ```
/// use coldbed_mock::drift::{Drift, DriftClass};
///
/// let drift: Drift = toml::from_str(
///     r#"
///     pointer = "/job/progress"
///     change = { scale = { factor = 0.01 } }
///     "#,
/// )?;
/// assert_eq!(drift.name, "scale");
/// assert_eq!(drift.class, DriftClass::Breaking);
/// assert_eq!(drift.explain(), "/job/progress is 0.01 times what it was.");
///
/// let typo = toml::from_str::<Drift>(r#"change = "replace-by-nul""#).unwrap_err();
/// assert_eq!(
///     typo.message(),
///     "there is no change `replace-by-nul` (did you mean `replace-by-null`?)"
/// );
/// # Ok::<(), toml::de::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "written::Written")]
pub struct Drift {
    /// A name for reports and for the command line.
    pub name: String,
    /// The place, as a JSON Pointer (RFC 6901) into the body.
    pub pointer: String,
    /// What happens there.
    pub change: Change,
    /// What a client owes when it happens.
    pub class: DriftClass,
}

/// Says what a client owes when a drift happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DriftClass {
    /// It must still be right.
    Compatible,
    /// It must say that it does not know; showing a wrong or old value as live is the failure.
    Breaking,
    /// It must survive.
    Hostile,
}

/// Says which part of an answer a change is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Stage {
    /// What the JSON says.
    Shape,
    /// How the JSON is written, if it still is any.
    Spelling,
    /// How the bytes are carried.
    Form,
}

impl Drift {
    /// Makes a drift that has the name of its kind, such as `replace-by-null`, and the class that
    /// the kind suggests.
    pub fn of(pointer: impl Into<String>, change: impl Into<Change>) -> Self {
        let change = change.into();
        Self {
            name: change.name(),
            pointer: pointer.into(),
            class: change.kind().class(),
            change,
        }
    }

    /// Tells whether its parameters are such that it could be applied to anything.
    pub(crate) fn check(&self) -> Result<(), DriftMiss> {
        self.change.kind().check()
    }

    /// Applies the drift to a body's shape. On an error the body is unchanged.
    ///
    /// # Errors
    /// [`DriftMiss`] when the body has no such place; a drift for one route misses the others.
    /// Also when the drift is of another stage.
    pub fn apply(&self, body: &mut Value) -> Result<(), DriftMiss> {
        self.check()?;
        match self.change.as_shape() {
            Some(shape) => shape.apply(Spot::new(body, &self.pointer)),
            None => Err(DriftMiss::OtherStage { wanted: "shape" }),
        }
    }

    /// Writes a body with the drift's spelling.
    ///
    /// # Errors
    /// [`DriftMiss`] when the body has no such place, or the drift is of another stage.
    pub fn spell(&self, body: &Value) -> Result<Vec<u8>, DriftMiss> {
        let mut pen = Pen::new(body);
        self.instruct(&mut pen)?;
        Ok(pen.write())
    }

    fn instruct(&self, pen: &mut Pen<'_>) -> Result<(), DriftMiss> {
        self.check()?;
        match self.change.as_spelling() {
            Some(spelling) => spelling.spell(pen, &self.pointer),
            None => Err(DriftMiss::OtherStage { wanted: "spelling" }),
        }
    }

    /// Says how the drift changes the way answers are carried. `None` for a drift of another stage,
    /// and for one with a pointer: how an answer is carried is of the whole.
    pub fn form(&self) -> Option<FormChange> {
        self.change.form().filter(|_| self.pointer.is_empty())
    }

    /// Tells whether the drift does anything to a body.
    ///
    /// # Errors
    /// [`DriftMiss`], which says why not.
    pub fn fits(&self, body: &Value) -> Result<(), DriftMiss> {
        match self.change.stage() {
            Stage::Shape => self.apply(&mut body.clone()),
            Stage::Spelling => self.instruct(&mut Pen::new(body)),
            Stage::Form => match self.form() {
                Some(_) => Ok(()),
                None => Err(DriftMiss::NotWhole {
                    pointer: self.pointer.clone(),
                }),
            },
        }
    }

    /// Gives what is at the place before and after.
    ///
    /// # Errors
    /// [`DriftMiss`] when the drift does not fit the body.
    pub fn effect(&self, body: &Value) -> Result<Effect, DriftMiss> {
        effect::of(self, body)
    }

    /// Gives the drift that takes this one back, for the body it was applied to. `None` when it
    /// does not fit that body, or changes nothing of the shape: such a drift is taken back by no
    /// longer applying it.
    #[must_use]
    pub fn inverse(&self, before: &Value) -> Option<Self> {
        let shape = self.change.as_shape()?;
        self.apply(&mut before.clone()).ok()?;
        let (pointer, change) = shape.inverse(&self.pointer, before)?;
        Some(Self {
            name: format!("undo-{}", self.name),
            pointer,
            change,
            class: self.class,
        })
    }

    /// Says in one sentence what has changed, so that somebody who sees a client fail can put it
    /// back by hand.
    pub fn explain(&self) -> String {
        let place = match (&*self.pointer, self.change.stage()) {
            ("", Stage::Form) => "the answer",
            ("", Stage::Shape | Stage::Spelling) => "the whole body",
            (pointer, _) => pointer,
        };
        let mut sentence = self.change.kind().explain(place);
        sentence.push('.');
        sentence
    }
}

#[cfg(test)]
mod tests;
