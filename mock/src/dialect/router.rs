//! Chooses the route for a request, or the answer when there is none.

use http::header::{ALLOW, HeaderValue};
use http::{Method, StatusCode};
use percent_encoding::percent_decode_str;

use super::route::{Matched, PathParams, RouteId, RouteKind};
use super::{Answer, Dialect, Problem, RequestHead};

/// How much of a strange path is repeated to the client that sent it.
const SHOWN: usize = 200;

/// Says what a request asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Routed {
    /// A body, by [`Dialect::answer`].
    Body(Matched),
    /// Something of the printer, by [`Dialect::command`].
    Command(Matched),
    /// A stream of bodies, by [`Dialect::push_plan`].
    Push(Matched),
    /// Nothing that needs the printer: the answer is already known.
    Answer(Answer),
}

/// Finds routes by path.
#[derive(Debug, Default)]
pub(super) struct Router {
    by_path: matchit::Router<usize>,
    /// The routes of each path, in the order of the file.
    paths: Vec<(String, Vec<(Method, RouteId)>)>,
}

impl Router {
    /// Adds a route.
    ///
    /// # Errors
    /// In words: the path is malformed, or another route answers the same requests.
    pub(super) fn add(&mut self, path: &str, method: Method, route: RouteId) -> Result<(), String> {
        let known = self.paths.iter_mut().find(|(known, _)| known == path);
        if let Some((_, methods)) = known {
            if methods.iter().any(|(known, _)| *known == method) {
                return Err(format!("{method} {path} is there twice"));
            }
            methods.push((method, route));
            return Ok(());
        }
        self.by_path
            .insert(path, self.paths.len())
            .map_err(|error| format!("{path}: {error}"))?;
        self.paths.push((path.to_owned(), vec![(method, route)]));
        Ok(())
    }

    /// Counts the routes added so far.
    pub(super) fn len(&self) -> usize {
        self.all_methods().count()
    }

    fn find(&self, path: &str) -> Option<(&[(Method, RouteId)], PathParams)> {
        let found = self.by_path.at(path).ok()?;
        let (_, methods) = self.paths.get(*found.value)?;
        let params = found
            .params
            .iter()
            .map(|(name, raw)| {
                let value = percent_decode_str(raw).decode_utf8_lossy().into_owned();
                (name.to_owned(), value)
            })
            .collect();
        Some((methods, PathParams(params)))
    }

    fn all_methods(&self) -> impl Iterator<Item = &(Method, RouteId)> {
        self.paths.iter().flat_map(|(_, methods)| methods)
    }
}

impl Dialect {
    /// Chooses the route for a request.
    ///
    /// Without the right key every request is answered 401 (or 400, see [`AuthScheme`]), whether
    /// its path exists or not: a stranger learns nothing. HEAD takes the route of GET, except where
    /// GET is a command.
    ///
    /// `key` is the key that the host asks for, if it asks for one.
    ///
    /// # Source
    /// RFC 9110 section 9.1 (501 for an unknown method), section 9.3.2 (HEAD), section 9.3.7
    /// (OPTIONS), section 15.5.6 (405 lists `Allow`).
    ///
    /// [`AuthScheme`]: super::AuthScheme
    pub fn route(&self, head: &RequestHead<'_>, key: Option<&str>) -> Routed {
        if let Some(key) = key
            && let Err(problem) = self.auth.admit(head, key)
        {
            return Routed::Answer(self.problem(&problem));
        }
        if !is_registered(head.method) {
            let detail = format!("method {} is not known here", head.method);
            return self.refuse(&Problem::new(StatusCode::NOT_IMPLEMENTED, detail));
        }
        if head.path == "*" && head.method == Method::OPTIONS {
            return self.options(self.allow(self.router.all_methods()));
        }
        let Some((methods, path)) = self.router.find(head.path) else {
            let path: String = head.path.chars().take(SHOWN).collect();
            let more = if path.len() < head.path.len() {
                "…"
            } else {
                ""
            };
            let detail = format!("nothing is at {path}{more}");
            return self.refuse(&Problem::new(StatusCode::NOT_FOUND, detail));
        };
        let wanted = |method: &Method| {
            methods
                .iter()
                .find(|(known, _)| known == method)
                .map(|(_, route)| *route)
        };
        let route = wanted(head.method).or_else(|| {
            (head.method == Method::HEAD)
                .then(|| wanted(&Method::GET))?
                .filter(|route| !self.commands(*route))
        });
        match route {
            Some(route) => self.matched(Matched { route, path }),
            None if head.method == Method::OPTIONS => self.options(self.allow(methods)),
            None => {
                let detail = format!("{} is not a method of {}", head.method, head.path);
                let problem = Problem::new(StatusCode::METHOD_NOT_ALLOWED, detail)
                    .with_header(ALLOW, self.allow(methods));
                self.refuse(&problem)
            }
        }
    }

    fn matched(&self, matched: Matched) -> Routed {
        match self.routes[matched.route.0].kind {
            RouteKind::Body => Routed::Body(matched),
            RouteKind::Command(_) => Routed::Command(matched),
            RouteKind::Push(_) => Routed::Push(matched),
        }
    }

    fn commands(&self, route: RouteId) -> bool {
        matches!(self.routes[route.0].kind, RouteKind::Command(_))
    }

    fn refuse(&self, problem: &Problem) -> Routed {
        Routed::Answer(self.problem(problem))
    }

    fn options(&self, allow: HeaderValue) -> Routed {
        let mut headers = self.headers.clone();
        headers.insert(ALLOW, allow);
        Routed::Answer(Answer {
            status: StatusCode::NO_CONTENT,
            headers,
            body: bytes::Bytes::new(),
        })
    }

    fn allow<'a>(&self, routes: impl IntoIterator<Item = &'a (Method, RouteId)>) -> HeaderValue {
        let mut methods = vec![Method::OPTIONS];
        for (method, route) in routes {
            methods.push(method.clone());
            if *method == Method::GET && !self.commands(*route) {
                methods.push(Method::HEAD);
            }
        }
        methods.sort_by(|one, other| one.as_str().cmp(other.as_str()));
        methods.dedup();
        let list: Vec<&str> = methods.iter().map(Method::as_str).collect();
        HeaderValue::try_from(list.join(", ")).expect("method names are tokens")
    }
}

/// Tells whether a method is one of RFC 9110 section 9.3 or RFC 5789.
fn is_registered(method: &Method) -> bool {
    [
        Method::GET,
        Method::HEAD,
        Method::POST,
        Method::PUT,
        Method::DELETE,
        Method::CONNECT,
        Method::OPTIONS,
        Method::TRACE,
        Method::PATCH,
    ]
    .contains(method)
}
