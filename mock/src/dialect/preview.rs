//! What a host shows at one moment, for its author to look at.

use super::route::{Matched, RouteKind};
use super::{Dialect, Rendered, RouteId, filled};
use crate::sim::Truth;

/// Is what one route shows at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// The method and the path, its parameters filled if what they are matters: `GET /heaters/a`.
    pub route: String,
    /// What it shows: JSON over several lines, text as it is, or words in brackets.
    pub text: String,
}

impl Dialect {
    /// Shows what each `GET` route says about a truth, in the order of the file.
    ///
    /// A path with parameters is shown for each heater and for the job, where it knows them.
    pub fn preview(&self, truth: &Truth) -> Vec<Shown> {
        let mut all = Vec::new();
        for index in 0..self.routes.len() {
            let route = self.of(RouteId(index));
            let shows = matches!(route.kind, RouteKind::Body | RouteKind::Push(_));
            if route.method == http::Method::GET && shows {
                self.preview_route(RouteId(index), truth, &mut all);
            }
        }
        all
    }

    fn preview_route(&self, id: RouteId, truth: &Truth, all: &mut Vec<Shown>) {
        let requests = filled::requests(self, id, truth);
        let mut shown: Vec<(bool, Shown)> = requests
            .iter()
            .map(|matched| self.preview_request(matched, truth))
            .collect();
        let same = shown
            .windows(2)
            .all(|pair| pair[0].1.text == pair[1].1.text);
        if same || shown.iter().all(|(is_there, _)| !is_there) {
            // What stands in the path makes no difference: the first stands for all.
            shown.truncate(1);
            shown[0].1.route = self.describe(id);
            shown[0].0 = true;
        }
        all.extend(
            shown
                .into_iter()
                .filter(|(is_there, _)| *is_there)
                .map(|(_, shown)| shown),
        );
    }

    /// Gives what a request is shown, and whether there is such a thing.
    fn preview_request(&self, matched: &Matched, truth: &Truth) -> (bool, Shown) {
        let route = self.of(matched.route);
        let mut path = route.path.clone();
        for (name, value) in &matched.path.0 {
            let value = value.as_deref().unwrap_or_default();
            path = path.replace(&format!("{{{name}}}"), value);
            path = path.replace(&format!("{{*{name}}}"), value);
        }
        let (is_there, text) = match self.render(matched, truth) {
            Ok(Rendered::Body(body)) => (true, format!("{body:#}")),
            Ok(Rendered::Text(text)) => (true, text),
            Ok(Rendered::Bytes(bytes)) => (true, format!("[{} bytes]", bytes.len())),
            Ok(Rendered::Nothing) => (true, "[nothing]".to_owned()),
            Ok(Rendered::Missing(problem)) => {
                (false, format!("[{}: {}]", problem.status, problem.detail))
            }
            Err(error) => (true, format!("[cannot be rendered: {error}]")),
        };
        let route = format!("{} {path}", route.method);
        (is_there, Shown { route, text })
    }
}
