//! Makes checks of rows.

use crate::check::clips::MANY_JOBS;
use crate::check::{Area, Check, Context, Field, Level, Plan};
use crate::oracle::{self, Trace};

/// Is what all rows share.
pub(super) const ROW: Check = Check {
    id: "",
    area: Area::Connection,
    level: Level::Must,
    requirement: "",
    source: "",
    provoked: "",
    judged: "",
    scenario: MANY_JOBS,
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_outage(trace),
};

/// Makes a check of a row: id, what is owed, the fault, what happens, where the rule comes from.
macro_rules! row {
    ($id:literal, Unknown, $fault:expr, $what:literal, $source:literal) => {
        Check {
            id: $id,
            requirement: concat!("while ", $what, ", the watcher says that it does not know, and recovers by itself"),
            source: $source,
            provoked: concat!($what, " for longer than the watcher may take to notice it; the print comes to its end meanwhile"),
            judged: "unknown is claimed in time and for as long as it lasts: no old value, and none of an answer that is not whole; a live claim comes in time after it",
            plan: |context| Ok($crate::check::connection::outage(context, $fault)),
            oracle: |trace, _| $crate::oracle::verify_fault(trace, $crate::oracle::Owed::Unknown),
            ..ROW
        }
    };
    ($id:literal, RightOrUnknown, $fault:expr, $what:literal, $source:literal) => {
        Check {
            plan: |context| Ok($crate::check::connection::through(context, $fault)),
            oracle: |trace, _| $crate::oracle::verify_fault(trace, $crate::oracle::Owed::RightOrUnknown),
            ..row!(@either $id, $what, $source)
        }
    };
    ($id:literal, RightOrUnknownAndNotBehind, $fault:expr, $what:literal, $source:literal) => {
        Check {
            plan: |context| Ok($crate::check::connection::falling_behind(context, $fault)),
            oracle: |trace, _| $crate::oracle::verify_fault(trace, $crate::oracle::Owed::RightOrUnknown),
            ..row!(@either $id, $what, $source)
        }
    };
    ($id:literal, RightAgain, $fault:expr, $what:literal, $source:literal) => {
        Check {
            judged: "each claim is unknown, or true of an answer that reached the watcher in time; before the fault is over the watcher is right again by a new connection",
            plan: |context| Ok($crate::check::connection::through(context, $fault)),
            oracle: |trace, _| $crate::oracle::verify_fault(trace, $crate::oracle::Owed::RightAgain),
            ..row!(@either $id, $what, $source)
        }
    };
    ($id:literal, Right, $fault:expr, $what:literal, $source:literal) => {
        Check {
            id: $id,
            requirement: concat!("while ", $what, ", the watcher goes on being right, but for a hiccup"),
            source: $source,
            provoked: concat!($what, "; what is true changes twice meanwhile"),
            judged: "each claim is true of an answer that reached the watcher in time, and unknown never stands for four good answers in a row",
            plan: |context| Ok($crate::check::connection::harmless(context, $fault)),
            oracle: |trace, _| $crate::oracle::verify_fault(trace, $crate::oracle::Owed::Right),
            ..ROW
        }
    };
    (@either $id:literal, $what:literal, $source:literal) => {
        Check {
            id: $id,
            requirement: concat!("while ", $what, ", the watcher is right or says that it does not know, and recovers by itself"),
            source: $source,
            provoked: concat!($what, "; what is true changes twice meanwhile"),
            judged: "each claim is unknown, or true of an answer that reached the watcher in time; a live claim comes in time after it",
            ..ROW
        }
    };
}

pub(super) use row;
