//! The kinds of change. Each has its own file; the list below is the only place that knows all.

mod add_member;
mod replace_by_null;

use serde::{Deserialize, Serialize};

pub use add_member::AddMember;
pub use replace_by_null::ReplaceByNull;

use super::spot::{DriftMiss, Spot};

/// Is what every kind of change can do.
pub(super) trait Kind {
    /// Makes the change, or leaves the body as it is.
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss>;

    /// Says in one sentence what has changed at the place.
    fn explain(&self, place: &str) -> String;
}

/// Lists the kinds: one row each.
macro_rules! kinds {
    ($($kind:ident),* $(,)?) => {
        /// Is one change.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case")]
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
        }

        $(
            impl From<$kind> for Change {
                fn from(change: $kind) -> Self {
                    Self::$kind(change)
                }
            }
        )*
    };
}

kinds![AddMember, ReplaceByNull];
