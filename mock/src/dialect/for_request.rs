//! What an answer owes to the fields of its request.

use super::{Answer, Dialect, Request, cors};
use crate::dialect::http_behaviour::HttpBehaviour;

impl Dialect {
    /// Gives how this host speaks HTTP.
    pub fn http(&self) -> &HttpBehaviour {
        &self.http
    }

    /// Makes an answer the one to this request: the tag of its coding, 304 for a client that has
    /// the body, the fields of CORS.
    ///
    /// The head of a stream has no body here, and so is never compressed.
    #[must_use]
    pub fn for_request(&self, head: &Request<'_>, answer: Answer) -> Answer {
        self.http.for_request(head, answer)
    }

    /// Makes the answer of a push route the one to this request: the fields of CORS. What it does
    /// with the tag that the client has is its own matter.
    #[must_use]
    pub fn for_push_request(&self, head: &Request<'_>, mut answer: Answer) -> Answer {
        if let Some(cors) = self.http.cors() {
            cors.add_to(head, &mut answer.headers);
        }
        answer
    }

    /// Tells whether a request is answered as a preflight, with [`Cors::preflight_fields`].
    ///
    /// [`Cors::preflight_fields`]: cors::Cors::preflight_fields
    pub(super) fn preflighted(&self, head: &Request<'_>) -> Option<&cors::Cors> {
        let cors = self.http.cors()?;
        (cors::is_preflight(head) && cors.lets_in(head.headers)).then_some(cors)
    }
}

impl HttpBehaviour {
    /// Does [`Dialect::for_request`] for a host that speaks so for the time being.
    #[must_use]
    pub fn for_request(&self, head: &Request<'_>, answer: Answer) -> Answer {
        let mut answer = answer.for_coding(self.gzip(), head.headers);
        // Another method that names a tag would be refused, not answered 304 (RFC 9110 section
        // 13.1.2); no other method has a tag here.
        if matches!(head.method.as_str(), "GET" | "HEAD") {
            answer = answer.conditional(head.headers);
        }
        if let Some(cors) = self.cors() {
            cors.add_to(head, &mut answer.headers);
        }
        answer
    }

    /// Gives the bytes of an answer that [`HttpBehaviour::for_request`] gave: compressed, if that is
    /// how they are sent.
    #[must_use]
    pub fn coded(&self, head: &Request<'_>, answer: Answer) -> Answer {
        answer.coded(self.gzip(), head.headers)
    }
}
