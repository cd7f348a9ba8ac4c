//! Chooses the route for a request, or the answer when there is none.

use std::sync::Arc;

use http::header::{ALLOW, HeaderValue};
use http::{Method, StatusCode};
use percent_encoding::percent_decode_str;
use serde_json::Value;

use super::route::{Condition, Matched, Params, RouteId, RouteKind};
use super::{Access, Answer, Cors, Dialect, Problem, Request};

/// How much of a strange path is repeated to the client that sent it.
const SHOWN: usize = 200;

/// Says what a request asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Routed {
    /// A body, by [`Dialect::answer`].
    Body(Matched),
    /// Something of the printer, by [`Dialect::order`].
    Command(Matched),
    /// A stream of bodies, by [`Dialect::push_plan`].
    Push(Matched),
    /// A token for the key, by [`Dialect::log_in`].
    LogIn(Matched),
    /// The token back.
    LogOut(Matched),
    /// Nothing that needs the printer: the answer is already known.
    Answer(Answer),
}

/// Finds routes by path.
#[derive(Debug, Default)]
pub(super) struct Router {
    by_path: matchit::Router<usize>,
    /// The routes of each path, in the order of the file.
    paths: Vec<(String, Vec<Candidate>)>,
}

/// Is a route that answers some requests for a path.
#[derive(Debug)]
struct Candidate {
    method: Method,
    condition: Condition,
    route: RouteId,
}

impl Candidate {
    fn is_meant_by(&self, request: &Request<'_>, body: Option<&Value>) -> bool {
        let query =
            self.condition.query.iter().all(|(name, value)| {
                request.query_parameter(name).as_deref() == Some(value.as_str())
            });
        let in_body = |(pointer, value): &(String, Value)| {
            body.and_then(|body| body.pointer(pointer)) == Some(value)
        };
        query && self.condition.body.iter().all(in_body)
    }
}

impl Router {
    /// Adds a route.
    ///
    /// # Errors
    /// In words: the path is malformed, or an earlier route answers the same requests.
    pub(super) fn add(
        &mut self,
        path: &str,
        method: Method,
        condition: Condition,
        route: RouteId,
    ) -> Result<(), String> {
        let candidate = Candidate {
            method,
            condition,
            route,
        };
        let known = self.paths.iter_mut().find(|(known, _)| known == path);
        if let Some((_, candidates)) = known {
            let hides = |known: &&Candidate| {
                known.method == candidate.method
                    && (known.condition == candidate.condition
                        || known.condition == Condition::default())
            };
            if let Some(hides) = candidates.iter().find(hides) {
                let method = &candidate.method;
                return Err(if hides.condition == candidate.condition {
                    format!("{method} {path} is there twice")
                } else {
                    format!("an earlier {method} {path} without `match` answers all of these")
                });
            }
            candidates.push(candidate);
            return Ok(());
        }
        self.by_path
            .insert(path, self.paths.len())
            .map_err(|error| format!("{path}: {error}"))?;
        self.paths.push((path.to_owned(), vec![candidate]));
        Ok(())
    }

    /// Counts the routes added so far.
    pub(super) fn len(&self) -> usize {
        self.all().count()
    }

    fn find(&self, path: &str) -> Option<(&[Candidate], Params)> {
        let found = self.by_path.at(path).ok()?;
        let (_, candidates) = self.paths.get(*found.value)?;
        let params = found
            .params
            .iter()
            .map(|(name, raw)| {
                let value = percent_decode_str(raw).decode_utf8_lossy().into_owned();
                (name.to_owned(), Some(value))
            })
            .collect();
        Some((candidates, Params(params)))
    }

    fn all(&self) -> impl Iterator<Item = &Candidate> {
        self.paths.iter().flat_map(|(_, candidates)| candidates)
    }
}

impl Dialect {
    /// Chooses the route for a request.
    ///
    /// Without the right key every request is answered 401 (or 400, see [`AuthScheme`]), whether
    /// its path exists or not, so that a stranger learns nothing; only routes that the file calls
    /// open, and log-in calls, are served to everybody, who is also told that another method or
    /// another query will not do there. HEAD takes the route of GET, except where
    /// GET does something.
    ///
    /// Two things are special. A preflight of an allowed origin is answered before the key is asked
    /// for, since a browser sends none with it (WHATWG Fetch, "CORS-preflight fetch"). A redirect
    /// is behind the key like every other path, wherever it leads, and comes before a route with
    /// parameters that has the same path.
    ///
    /// # Source
    /// RFC 9110 section 9.1 (501 for an unknown method), section 9.3.2 (HEAD), section 9.3.7
    /// (OPTIONS), section 15.5.6 (405 lists `Allow`).
    ///
    /// [`AuthScheme`]: super::AuthScheme
    pub fn route(&self, request: &Request<'_>, access: &Access<'_>) -> Routed {
        let body = json(request.body);
        let found = self.router.find(request.path);
        if let Some(cors) = self.preflighted(request)
            && let Some((candidates, _)) = &found
        {
            return self.preflight(cors, self.allow(*candidates));
        }
        let chosen = found
            .as_ref()
            .and_then(|(candidates, _)| self.choose(candidates, request, body.as_ref()));
        // Where anything is open to everybody, what else is there is no secret either.
        let is_open = match (&found, chosen) {
            (_, Some(route)) => self.of(route).open,
            (Some((candidates, _)), None) => candidates.iter().any(|one| self.of(one.route).open),
            (None, None) => false,
        };
        if !is_open && let Err(problem) = self.auth.admit(request, access) {
            return self.refuse(&self.as_this_host_refuses(problem));
        }
        if !is_registered(request.method) {
            let detail = format!("method {} is not known here", request.method);
            return self.refuse(&Problem::new(StatusCode::NOT_IMPLEMENTED, detail));
        }
        if request.path == "*" && request.method == Method::OPTIONS {
            return self.options(self.allow(self.router.all()));
        }
        if let Some(answer) = self.redirected(request) {
            return Routed::Answer(answer);
        }
        match (found, chosen) {
            (None, _) => {
                let elsewhere = self.not_redirected(request);
                self.refuse(&elsewhere.unwrap_or_else(|| nowhere(request.path)))
            }
            (Some((_, path)), Some(route)) => match self.known_query(route, request) {
                Ok(query) => self.matched(Matched {
                    version: self.place,
                    route,
                    path,
                    query,
                    body: body.map(Arc::new),
                }),
                Err(problem) => self.refuse(&problem),
            },
            (Some((candidates, _)), None) if request.method == Method::OPTIONS => {
                self.options(self.allow(candidates))
            }
            (Some((candidates, _)), None) => {
                if candidates.iter().any(|one| one.method == *request.method) {
                    let detail = format!(
                        "{} {} is not answered with this query or body",
                        request.method, request.path
                    );
                    return self.refuse(&Problem::new(StatusCode::NOT_FOUND, detail));
                }
                let detail = format!("{} is not a method of {}", request.method, request.path);
                let problem = Problem::new(StatusCode::METHOD_NOT_ALLOWED, detail)
                    .with_header(ALLOW, self.allow(candidates));
                self.refuse(&problem)
            }
        }
    }

    fn choose(
        &self,
        candidates: &[Candidate],
        request: &Request<'_>,
        body: Option<&Value>,
    ) -> Option<RouteId> {
        let wanted = |method: &Method| {
            candidates
                .iter()
                .find(|one| one.method == *method && one.is_meant_by(request, body))
                .map(|one| one.route)
        };
        wanted(request.method).or_else(|| {
            (request.method == Method::HEAD)
                .then(|| wanted(&Method::GET))?
                .filter(|route| self.only_shows(*route))
        })
    }

    /// Gives the parameters of the query that a route knows; others are ignored, as hosts do.
    fn known_query(&self, route: RouteId, request: &Request<'_>) -> Result<Params, Problem> {
        let mut params = Vec::new();
        for known in &self.of(route).query {
            let name = &known.name;
            let bad = |detail| Err(Problem::new(StatusCode::BAD_REQUEST, detail));
            let value = request.query_parameter(name);
            match &value {
                None if known.required => {
                    return bad(format!("query parameter `{name}` is missing"));
                }
                Some(value) if !known.one_of.is_empty() && !known.one_of.contains(value) => {
                    let allowed = known.one_of.join(", ");
                    return bad(format!("query parameter `{name}` is none of {allowed}"));
                }
                _ => {}
            }
            params.push((name.clone(), value.or_else(|| known.default.clone())));
        }
        Ok(Params(params))
    }

    fn matched(&self, matched: Matched) -> Routed {
        match self.of(matched.route).kind {
            RouteKind::Body => Routed::Body(matched),
            RouteKind::Command(_) => Routed::Command(matched),
            RouteKind::Push(_) => Routed::Push(matched),
            RouteKind::LogIn(_) => Routed::LogIn(matched),
            RouteKind::LogOut => Routed::LogOut(matched),
        }
    }

    /// Gives a refusal the status this host has for it.
    pub(super) fn as_this_host_refuses(&self, mut problem: Problem) -> Problem {
        if let Some(status) = self.refusal_status
            && problem.status == StatusCode::UNAUTHORIZED
        {
            problem.status = status;
        }
        problem
    }

    fn only_shows(&self, route: RouteId) -> bool {
        matches!(self.of(route).kind, RouteKind::Body | RouteKind::Push(_))
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

    /// Answers a preflight: what a script may do at a path, its methods and the fields it may send.
    fn preflight(&self, cors: &Cors, allow: HeaderValue) -> Routed {
        let fields = cors.preflight_fields(&allow);
        let mut routed = self.options(allow);
        if let Routed::Answer(answer) = &mut routed {
            answer.headers.extend(fields);
        }
        routed
    }

    fn allow<'a>(&self, routes: impl IntoIterator<Item = &'a Candidate>) -> HeaderValue {
        let mut methods = vec![Method::OPTIONS];
        for Candidate { method, route, .. } in routes {
            methods.push(method.clone());
            if *method == Method::GET && self.only_shows(*route) {
                methods.push(Method::HEAD);
            }
        }
        methods.sort_by(|one, other| one.as_str().cmp(other.as_str()));
        methods.dedup();
        let list: Vec<&str> = methods.iter().map(Method::as_str).collect();
        HeaderValue::try_from(list.join(", ")).expect("method names are tokens")
    }
}

fn nowhere(path: &str) -> Problem {
    let shown: String = path.chars().take(SHOWN).collect();
    let more = if shown.len() < path.len() { "…" } else { "" };
    Problem::new(
        StatusCode::NOT_FOUND,
        format!("nothing is at {shown}{more}"),
    )
}

/// Reads a body as JSON, if it is some.
fn json(body: &[u8]) -> Option<Value> {
    if body.is_empty() {
        return None;
    }
    serde_json::from_slice(body).ok()
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
