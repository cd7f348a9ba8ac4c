//! The kinds of change. Each has its own file; the list below is the only place that knows all.

mod add_member;
mod deepen_unknown;
mod element;
mod form;
mod member_order;
mod move_member;
mod number_as_text;
mod object_as_array;
mod pad;
mod read;
mod remove_member;
mod rename_member;
mod replace_by_null;
mod replace_value;
mod scale;
mod spelling;
mod value_as_object;

use serde_json::Value;

pub use add_member::AddMember;
pub use deepen_unknown::DeepenUnknown;
pub use element::{AppendElement, PrependElement};
pub use form::{Chunked, FieldNames, Gzip};
pub use member_order::{ReverseMembers, SortMembers};
pub use move_member::MoveMember;
pub use number_as_text::{NumberAsText, TextAsNumber};
pub use object_as_array::ObjectAsArray;
pub use pad::Pad;
pub use remove_member::RemoveMember;
pub use rename_member::RenameMember;
pub use replace_by_null::ReplaceByNull;
pub use replace_value::ReplaceValue;
pub use scale::Scale;
pub use spelling::{
    Blank, ByteOrderMark, Corpus, DecimalPoint, Deep, DuplicateMember, EmptyBody, EscapedNames,
    ExponentNumbers, Garbage, HugeNumber, Indented, InvalidUtf8, LoneSurrogate, NonAsciiEscaped,
    NotANumber, Position, Spaced, SurrogateHalf, SurrogatePlace, TrailingComma, TrailingText,
    Truncated,
};
pub use value_as_object::ValueAsObject;

use super::form::FormChange;
use super::pen::Pen;
use super::spot::{DriftMiss, Spot};
use super::{DriftClass, Stage};

/// Is what every kind of change can do.
pub(super) trait Kind {
    /// Suggests what a client owes when it happens.
    fn class(&self) -> DriftClass;

    /// Says in one sentence, without its full stop, what has changed at the place.
    fn explain(&self, place: &str) -> String;

    /// Refuses parameters that fit no body.
    fn check(&self) -> Result<(), DriftMiss> {
        Ok(())
    }
}

/// Is a kind that changes what the JSON says.
pub(super) trait Shape: Kind {
    /// Makes the change, or leaves the body as it is.
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss>;

    /// Gives the place and the change that take this one back, for a body that it fits.
    fn inverse(&self, pointer: &str, before: &Value) -> Option<(String, Change)> {
        Some((pointer.to_owned(), ReplaceValue::old(pointer, before)?))
    }

    /// Gives the place that shows the change, there before and after.
    fn place<'p>(&self, pointer: &'p str) -> &'p str {
        pointer
    }
}

/// Is a kind that changes how the JSON is written, or makes it none.
pub(super) trait Spelling: Kind {
    /// Tells the pen, or leaves it as it is.
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss>;

    /// Gives the place whose bytes are others then: the value at the pointer, or more.
    fn place<'p>(&self, pointer: &'p str) -> &'p str {
        pointer
    }
}

/// Is a kind that changes how an answer is carried, and nothing of its body.
pub(super) trait Form: Kind {
    /// Says what changes.
    fn form(&self) -> FormChange;

    /// Gives a field of an answer's head before and after.
    fn fields(&self) -> [&'static str; 2];
}

/// Lists the kinds.
macro_rules! kinds {
    (
        shape: [$($shape:ident),* $(,)?],
        spelling: [$($spelling:ident),* $(,)?],
        form: [$($form:ident),* $(,)?] $(,)?
    ) => {
        kinds!(@all $($shape,)* $($spelling,)* $($form,)*);

        impl Change {
            pub(super) fn as_shape(&self) -> Option<&dyn Shape> {
                match self {
                    $(Self::$shape(change) => Some(change),)*
                    _ => None,
                }
            }

            pub(super) fn as_spelling(&self) -> Option<&dyn Spelling> {
                match self {
                    $(Self::$spelling(change) => Some(change),)*
                    _ => None,
                }
            }

            pub(super) fn as_form(&self) -> Option<&dyn Form> {
                match self {
                    $(Self::$form(change) => Some(change),)*
                    _ => None,
                }
            }

            /// Tells which part of an answer changes.
            pub fn stage(&self) -> Stage {
                match self {
                    $(Self::$shape(_) => Stage::Shape,)*
                    $(Self::$spelling(_) => Stage::Spelling,)*
                    $(Self::$form(_) => Stage::Form,)*
                }
            }
        }
    };
    (@all $($kind:ident,)*) => {
        /// Is one change.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Change {
            $(
                #[doc = concat!("See [`", stringify!($kind), "`].")]
                $kind($kind),
            )*
        }

        impl Change {
            pub(super) fn kind(&self) -> &dyn Kind {
                match self {
                    $(Self::$kind(change) => change,)*
                }
            }

            /// Gives the name of the kind: `replace-by-null`.
            pub fn name(&self) -> String {
                kebab_case(match self {
                    $(Self::$kind(_) => stringify!($kind),)*
                })
            }

            /// Gives the names of all kinds, as [`Change::name`] does.
            pub fn names() -> Vec<String> {
                [$(stringify!($kind)),*].map(kebab_case).into()
            }

            /// Says how an answer is carried then; `None` for a change of the body.
            pub fn form(&self) -> Option<FormChange> {
                Some(self.as_form()?.form())
            }
        }

        read::written!($($kind,)*);

        $(
            impl From<$kind> for Change {
                fn from(change: $kind) -> Self {
                    Self::$kind(change)
                }
            }
        )*
    };
}

kinds! {
    shape: [
        AddMember,
        AppendElement,
        DeepenUnknown,
        MoveMember,
        NumberAsText,
        ObjectAsArray,
        Pad,
        PrependElement,
        RemoveMember,
        RenameMember,
        ReplaceByNull,
        ReplaceValue,
        ReverseMembers,
        Scale,
        SortMembers,
        TextAsNumber,
        ValueAsObject,
    ],
    spelling: [
        ByteOrderMark,
        Corpus,
        DecimalPoint,
        Deep,
        DuplicateMember,
        EmptyBody,
        EscapedNames,
        ExponentNumbers,
        Garbage,
        HugeNumber,
        Indented,
        InvalidUtf8,
        LoneSurrogate,
        NonAsciiEscaped,
        NotANumber,
        Spaced,
        TrailingComma,
        TrailingText,
        Truncated,
    ],
    form: [
        Chunked,
        FieldNames,
        Gzip,
    ],
}

/// Writes a type's name as serde does with `rename_all = "kebab-case"`.
fn kebab_case(name: &str) -> String {
    let mut kebab = String::with_capacity(name.len() + 4);
    for letter in name.chars() {
        if letter.is_ascii_uppercase() && !kebab.is_empty() {
            kebab.push('-');
        }
        kebab.push(letter.to_ascii_lowercase());
    }
    kebab
}
