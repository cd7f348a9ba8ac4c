//! Lays a file over the one it includes.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Keys that choose what kind of thing a table describes. A table that has one says all there is to
/// say: keys of another kind that the table below left behind would only be strangers in it.
const CHOOSING: [&str; 2] = ["method", "element"];

/// Lays one table over another: tables are merged key by key, anything else replaces what is there.
pub(super) fn lay_over<'i>(base: &mut DeTable<'i>, over: DeTable<'i>) {
    for (key, value) in over {
        let Some(below) = base.get_mut(key.get_ref().as_ref()) else {
            base.insert(key, value);
            continue;
        };
        // What is missing is missing from the table nearest to the author, so that one's place
        // counts; the values inside keep their own.
        let place = value.span();
        let merged = match (
            std::mem::replace(below.get_mut(), DeValue::Boolean(false)),
            value.into_inner(),
        ) {
            (DeValue::Table(mut below), DeValue::Table(table)) if !chooses(&table) => {
                lay_over(&mut below, table);
                DeValue::Table(below)
            }
            (_, value) => value,
        };
        *below = Spanned::new(place, merged);
    }
}

fn chooses(table: &DeTable<'_>) -> bool {
    CHOOSING.iter().any(|key| table.contains_key(*key))
}
