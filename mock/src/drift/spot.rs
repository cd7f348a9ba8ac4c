//! The place in a body that a change works on.

use serde_json::{Map, Value};

use crate::pointer;

/// Says why a drift does not fit a body.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DriftMiss {
    /// The body has nothing at the pointer.
    #[error("the body has nothing at `{pointer}`")]
    NoPlace {
        /// The pointer.
        pointer: String,
    },
    /// What is at the pointer is of another kind.
    #[error("`{pointer}` is not {wanted}")]
    WrongKind {
        /// The pointer.
        pointer: String,
        /// The kind that the change needs, with its article.
        wanted: &'static str,
    },
    /// The member to be added is there already.
    #[error("`{pointer}` has a member `{member}` already")]
    Taken {
        /// The pointer.
        pointer: String,
        /// The member's name.
        member: String,
    },
    /// The member would be moved into itself.
    #[error("`{pointer}` cannot be moved into itself, to `{to}`")]
    IntoItself {
        /// The pointer.
        pointer: String,
        /// The place it was to be moved to.
        to: String,
    },
    /// The number would be one that JSON cannot say.
    #[error("`{text}` is not a JSON number")]
    NoNumber {
        /// The number as text.
        text: String,
    },
    /// The change asks for more than the mock makes.
    #[error("{asked} {what} are more than the {most} that a drift makes")]
    TooMuch {
        /// What there is too much of, in the plural.
        what: &'static str,
        /// How many are asked for.
        asked: u32,
        /// How many there may be.
        most: u32,
    },
    /// The text is no JSON Pointer.
    #[error("`{pointer}` is no JSON Pointer (it is empty or begins with `/`, and `~` is `~0`)")]
    NoPointer {
        /// The text.
        pointer: String,
    },
    /// The change is of the whole answer.
    #[error("the change is of the whole answer and has no place in it such as `{pointer}`")]
    NotWhole {
        /// The pointer.
        pointer: String,
    },
    /// There is no such text in the corpus.
    #[error("the corpus has no entry `{entry}`")]
    NoEntry {
        /// The entry's name.
        entry: String,
    },
    /// The drift is of another stage: shapes are changed first, then what is left is spelled, then
    /// it is carried.
    #[error("the drift does not change a body's {wanted}")]
    OtherStage {
        /// What was to be changed: `shape` or `spelling`.
        wanted: &'static str,
    },
}

impl DriftMiss {
    /// Refuses more than there may be.
    pub(super) fn check(what: &'static str, asked: u32, most: u32) -> Result<(), Self> {
        if asked > most {
            return Err(Self::TooMuch { what, asked, most });
        }
        Ok(())
    }
}

/// Is a place in a body.
#[derive(Debug)]
pub(super) struct Spot<'a> {
    body: &'a mut Value,
    pointer: &'a str,
}

impl<'a> Spot<'a> {
    pub(super) fn new(body: &'a mut Value, pointer: &'a str) -> Self {
        Self { body, pointer }
    }

    pub(super) fn pointer(&self) -> String {
        self.pointer.to_owned()
    }

    /// Gives the whole body.
    pub(super) fn body(self) -> &'a mut Value {
        self.body
    }

    /// Gives the value at the place.
    pub(super) fn value(self) -> Result<&'a mut Value, DriftMiss> {
        let pointer = self.pointer();
        self.body
            .pointer_mut(self.pointer)
            .ok_or(DriftMiss::NoPlace { pointer })
    }

    /// Gives the object at the place.
    pub(super) fn object(self) -> Result<&'a mut Map<String, Value>, DriftMiss> {
        let miss = self.wrong_kind("an object");
        self.value()?.as_object_mut().ok_or(miss)
    }

    /// Gives the array at the place.
    pub(super) fn array(self) -> Result<&'a mut Vec<Value>, DriftMiss> {
        let miss = self.wrong_kind("an array");
        self.value()?.as_array_mut().ok_or(miss)
    }

    /// Gives the object that has the place as a member, and the member's name.
    pub(super) fn member(self) -> Result<(&'a mut Map<String, Value>, String), DriftMiss> {
        let pointer = self.pointer();
        if self.body.pointer(self.pointer).is_none() {
            return Err(DriftMiss::NoPlace { pointer });
        }
        let miss = self.wrong_kind("a member of an object");
        let Some((parent, name)) = pointer::split(self.pointer) else {
            return Err(miss);
        };
        let parent = self.body.pointer_mut(parent);
        let object = parent.and_then(Value::as_object_mut).ok_or(miss)?;
        Ok((object, name))
    }

    /// Adds a member to the object at the place, after the others.
    pub(super) fn add(self, member: &str, value: Value) -> Result<(), DriftMiss> {
        let pointer = self.pointer();
        let object = self.object()?;
        if object.contains_key(member) {
            let member = member.to_owned();
            return Err(DriftMiss::Taken { pointer, member });
        }
        object.insert(member.to_owned(), value);
        Ok(())
    }

    pub(super) fn wrong_kind(&self, wanted: &'static str) -> DriftMiss {
        DriftMiss::WrongKind {
            pointer: self.pointer(),
            wanted,
        }
    }
}
