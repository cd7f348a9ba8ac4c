//! What scripts of other origins may do.

use http::header::{
    ACCESS_CONTROL_ALLOW_CREDENTIALS, ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS,
    ACCESS_CONTROL_ALLOW_ORIGIN, ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE,
    ACCESS_CONTROL_REQUEST_METHOD, ORIGIN,
};
use http::{HeaderMap, HeaderValue, Method};

use super::{Request, vary};

/// Is what scripts of other origins may do with a host: `[http.cors]` of a dialect file.
///
/// The host only tells; it is the browser that keeps a script from the answer. An answer to an
/// origin that is not allowed is the same one without the fields.
///
/// # Source
/// WHATWG Fetch, "CORS protocol".
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cors {
    pub(super) origins: Origins,
    pub(super) headers: Option<HeaderValue>,
    /// `None` for the methods of the path.
    pub(super) methods: Option<HeaderValue>,
    pub(super) expose: Option<HeaderValue>,
    pub(super) credentials: bool,
    pub(super) max_age_s: u64,
}

/// Says which origins are let in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Origins {
    Any,
    /// As the `Origin` field writes them.
    These(Vec<HeaderValue>),
}

/// Tells whether a request asks what a script may do, before it is sent.
///
/// # Source
/// WHATWG Fetch, "HTTP requests": "CORS-preflight request".
pub(super) fn is_preflight(head: &Request<'_>) -> bool {
    head.method == Method::OPTIONS
        && head.headers.contains_key(ORIGIN)
        && head.headers.contains_key(ACCESS_CONTROL_REQUEST_METHOD)
}

impl Cors {
    /// Tells whether the origin that a request names is let in.
    pub(super) fn lets_in(&self, request: &HeaderMap) -> bool {
        match (&self.origins, request.get(ORIGIN)) {
            (_, None) => false,
            (Origins::Any, Some(_)) => true,
            (Origins::These(list), Some(origin)) => list.contains(origin),
        }
    }

    /// Gives the fields that only an answer to a preflight has.
    ///
    /// `of_path` are the methods of the path asked about.
    pub(super) fn preflight_fields(&self, of_path: &HeaderValue) -> HeaderMap {
        let methods = self.methods.as_ref().unwrap_or(of_path);
        let mut fields = HeaderMap::new();
        fields.insert(ACCESS_CONTROL_ALLOW_METHODS, methods.clone());
        if let Some(headers) = &self.headers {
            fields.insert(ACCESS_CONTROL_ALLOW_HEADERS, headers.clone());
        }
        fields.insert(ACCESS_CONTROL_MAX_AGE, HeaderValue::from(self.max_age_s));
        fields
    }

    /// Adds the fields that every answer has.
    ///
    /// Where any origin is let in they are there for every request, and nothing varies; where some
    /// are, every answer varies (WHATWG Fetch, "CORS protocol and HTTP caches").
    pub(super) fn add_to(&self, head: &Request<'_>, headers: &mut HeaderMap) {
        let allowed = match &self.origins {
            Origins::Any => HeaderValue::from_static("*"),
            Origins::These(_) => {
                vary::add(headers, &ORIGIN);
                match head.headers.get(ORIGIN) {
                    Some(origin) if self.lets_in(head.headers) => origin.clone(),
                    _ => return,
                }
            }
        };
        headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, allowed);
        if self.credentials {
            let yes = HeaderValue::from_static("true");
            headers.insert(ACCESS_CONTROL_ALLOW_CREDENTIALS, yes);
        }
        if let Some(expose) = &self.expose
            && !is_preflight(head)
        {
            headers.insert(ACCESS_CONTROL_EXPOSE_HEADERS, expose.clone());
        }
    }
}

#[cfg(test)]
mod tests {
    use http::header::VARY;

    use super::*;

    fn cors(origins: Origins) -> Cors {
        Cors {
            origins,
            headers: Some(HeaderValue::from_static("Authorization")),
            methods: None,
            expose: Some(HeaderValue::from_static("ETag")),
            credentials: false,
            max_age_s: 600,
        }
    }

    fn these() -> Cors {
        let list = ["http://a.test", "http://b.test:81"].map(HeaderValue::from_static);
        cors(Origins::These(list.to_vec()))
    }

    /// Gives the fields of an answer to a request of an origin.
    fn fields(cors: &Cors, origin: Option<&'static str>) -> HeaderMap {
        let request: HeaderMap = origin
            .map(|origin| (ORIGIN, HeaderValue::from_static(origin)))
            .into_iter()
            .collect();
        let head = Request {
            method: &Method::GET,
            path: "/",
            query: None,
            headers: &request,
            body: b"",
        };
        let mut headers = HeaderMap::new();
        cors.add_to(&head, &mut headers);
        headers
    }

    #[test]
    fn an_origin_of_the_list_is_repeated_and_a_strange_one_is_not() {
        let listed = fields(&these(), Some("http://b.test:81"));
        assert_eq!(listed[ACCESS_CONTROL_ALLOW_ORIGIN], "http://b.test:81");
        assert_eq!(listed[ACCESS_CONTROL_EXPOSE_HEADERS], "ETag");
        for strange in [None, Some("http://b.test"), Some("HTTP://a.test")] {
            let fields = fields(&these(), strange);
            assert_eq!(fields[VARY], "origin");
            assert_eq!(fields.len(), 1, "{strange:?}: {fields:?}");
        }
    }

    #[test]
    fn where_any_origin_is_let_in_the_field_is_always_the_same() {
        let any = cors(Origins::Any);
        for origin in [None, Some("null"), Some("http://c.test")] {
            let fields = fields(&any, origin);
            assert_eq!(fields[ACCESS_CONTROL_ALLOW_ORIGIN], "*");
            assert_eq!(fields.get(VARY), None);
        }
    }

    #[test]
    fn credentials_are_let_in_by_a_field_of_their_own() {
        let mut cors = these();
        assert!(
            !fields(&cors, Some("http://a.test")).contains_key(ACCESS_CONTROL_ALLOW_CREDENTIALS)
        );
        cors.credentials = true;
        let with = fields(&cors, Some("http://a.test"));
        assert_eq!(with[ACCESS_CONTROL_ALLOW_CREDENTIALS], "true");
    }

    #[test]
    fn a_preflight_is_told_the_methods_of_the_path_unless_the_file_names_some() {
        let of_path = HeaderValue::from_static("OPTIONS, PUT");
        let mut cors = these();
        let fields = cors.preflight_fields(&of_path);
        assert_eq!(fields[ACCESS_CONTROL_ALLOW_METHODS], "OPTIONS, PUT");
        assert_eq!(fields[ACCESS_CONTROL_ALLOW_HEADERS], "Authorization");
        assert_eq!(fields[ACCESS_CONTROL_MAX_AGE], "600");
        cors.methods = Some(HeaderValue::from_static("GET"));
        let fields = cors.preflight_fields(&of_path);
        assert_eq!(fields[ACCESS_CONTROL_ALLOW_METHODS], "GET");
    }
}
