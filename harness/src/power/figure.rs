//! Figures that know where they are from, and the keys they are written under.

use std::borrow::Cow;
use std::fmt;

/// Says how far a figure can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Read in the document named.
    LookedUp,
    /// From the document named, but recalled and not read again.
    FromMemory,
    /// Worked out from other figures.
    Computed,
    /// What is usual in the trade.
    CommonPractice,
    /// Chosen here.
    OwnChoice,
    /// Said by the user's own file.
    Given,
}

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::LookedUp => "looked up",
            Self::FromMemory => "from memory",
            Self::Computed => "computed",
            Self::CommonPractice => "common practice",
            Self::OwnChoice => "own choice",
            Self::Given => "given",
        })
    }
}

/// Is one figure of a board or a cell, in the unit of its [`Key`].
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The number.
    pub value: f64,
    /// The document, or the reason where there is none.
    pub source: Cow<'static, str>,
    /// How far it can be trusted.
    pub mark: Mark,
}

impl Figure {
    pub(super) const fn new(value: f64, source: &'static str, mark: Mark) -> Self {
        Self {
            value,
            source: Cow::Borrowed(source),
            mark,
        }
    }
}

/// Is a key of the file's `[board]` or `[cell]`: its name, which ends in its unit, and its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// The name, as a file writes it.
    pub name: &'static str,
    /// What the figure is.
    pub meaning: &'static str,
    /// The least allowed.
    pub min: f64,
    /// The most allowed.
    pub max: f64,
    /// The unit as a message writes it.
    pub unit: &'static str,
}

/// Makes a sheet of figures: the type, the keys it is written under, and the way from key to figure.
macro_rules! sheet {
    (
        $(#[$doc:meta])*
        $name:ident {
            $($field:ident: $key:literal, $min:literal to $max:literal $unit:literal, $meaning:literal;)+
        }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name {
            pub(super) name: std::borrow::Cow<'static, str>,
            $(pub(super) $field: $crate::power::Figure,)+
        }

        impl $name {
            /// Lists the keys, in the order of the page; limits are our own choice, far outside what
            /// is built.
            pub const KEYS: &'static [$crate::power::Key] = &[$($crate::power::Key {
                name: $key,
                meaning: $meaning,
                min: $min,
                max: $max,
                unit: $unit,
            },)+];

            /// Gives the name.
            pub fn name(&self) -> &str {
                &self.name
            }

            /// Gives the figure of a key; `None` if there is no such key.
            pub fn figure(&self, key: &str) -> Option<&$crate::power::Figure> {
                match key {
                    $($key => Some(&self.$field),)+
                    _ => None,
                }
            }

            pub(super) fn figure_mut(&mut self, key: &str) -> Option<&mut $crate::power::Figure> {
                match key {
                    $($key => Some(&mut self.$field),)+
                    _ => None,
                }
            }
        }
    };
}
pub(super) use sheet;
