//! The place in a body that a change works on.

use serde_json::{Map, Value};

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

    /// Gives the value at the place.
    pub(super) fn value(self) -> Result<&'a mut Value, DriftMiss> {
        let pointer = self.pointer();
        self.body
            .pointer_mut(self.pointer)
            .ok_or(DriftMiss::NoPlace { pointer })
    }

    /// Gives the object at the place.
    pub(super) fn object(self) -> Result<&'a mut Map<String, Value>, DriftMiss> {
        let pointer = self.pointer();
        self.value()?.as_object_mut().ok_or(DriftMiss::WrongKind {
            pointer,
            wanted: "an object",
        })
    }
}
