//! Requests that nobody sent: every way to fill a route's path, for trying what it says.

use super::Dialect;
use super::route::{Matched, Params, RouteId};
use crate::sim::Truth;

/// A value that no path parameter is expected to name.
pub(super) const NOBODY: &str = "nobody's name";

/// Gives requests for a route, its path parameters filled with every name in the truth and with
/// none of them, its query as it is when nothing is given.
///
/// The one with [`NOBODY`] comes first; a path without parameters has only that.
pub(super) fn requests(dialect: &Dialect, id: RouteId, truth: &Truth) -> Vec<Matched> {
    let mut values = vec![NOBODY.to_owned()];
    if !parameters(&dialect.of(id).path).is_empty() {
        values.extend(names(truth));
    }
    with_each(dialect, id, values)
}

/// Gives every name in a truth that a path may ask for.
pub(super) fn names(truth: &Truth) -> impl Iterator<Item = String> {
    let heaters = truth.heaters.keys().cloned();
    heaters.chain(truth.job.iter().map(|job| job.id.to_string()))
}

/// Gives one request for a route for each value, which every parameter of its path has.
pub(super) fn with_each(dialect: &Dialect, id: RouteId, values: Vec<String>) -> Vec<Matched> {
    let route = dialect.of(id);
    let names = parameters(&route.path);
    let query: Vec<_> = route
        .query
        .iter()
        .map(|known| (known.name.clone(), known.default.clone()))
        .collect();
    let filled = |value: String| {
        let path = names.iter().map(|name| (name.clone(), Some(value.clone())));
        Matched {
            version: dialect.place,
            route: id,
            path: Params(path.collect()),
            query: Params(query.clone()),
            body: None,
        }
    };
    values.into_iter().map(filled).collect()
}

/// Gives the names between the braces of a path, without the `*` of one that takes the rest.
pub(super) fn parameters(path: &str) -> Vec<String> {
    path.split('{')
        .skip(1)
        .filter_map(|rest| rest.split_once('}'))
        .map(|(name, _)| name.trim_start_matches('*').to_owned())
        .collect()
}
