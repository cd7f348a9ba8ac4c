//! The answers that faults give instead of the dialect's.

use http::header::{CACHE_CONTROL, CONNECTION, CONTENT_TYPE, LOCATION, RETRY_AFTER};
use http::{HeaderMap, HeaderValue, StatusCode, Uri};

use super::date::real_date;
use crate::dialect::{Answer, Dialect, Problem};
use crate::fault::Fault;

/// Gives the answer that a fault gives to a request; `None` if it leaves it to the dialect.
pub(super) fn of(fault: &Fault, dialect: &Dialect, target: &Uri) -> Option<Answer> {
    match fault {
        Fault::Status { code, retry_after } => {
            let mut problem = Problem::new(*code, "the host is made to answer so");
            if let Some(retry_after) = retry_after {
                problem = problem.with_header(RETRY_AFTER, retry_after.value(real_date()));
            }
            Some(closing_if_timed_out(bodiless_if_so(
                dialect.problem(&problem),
            )))
        }
        Fault::LoginPage => Some(html(StatusCode::OK, LOGIN_PAGE)),
        Fault::Redirect { to, code } => Some(redirection(*code, &format!("{to}{target}"))),
        Fault::CaptivePortal => {
            let mut answer = redirection(StatusCode::FOUND, PORTAL);
            let no_store = HeaderValue::from_static("no-store");
            answer.headers.insert(CACHE_CONTROL, no_store);
            Some(answer)
        }
        Fault::RedirectLoop { code } => Some(redirection(*code, &target.to_string())),
        _ => None,
    }
}

/// RFC 6761 section 6.4: no name below `invalid` has an address.
const PORTAL: &str = "http://portal.invalid/login";

const LOGIN_PAGE: &str = "<!DOCTYPE html>\n<html lang=\"en\">\n<head><title>Log in</title></head>\n<body>\n<h1>Log in</h1>\n<form method=\"post\" action=\"/login\">\n<label>Name <input name=\"name\"></label>\n<label>Password <input name=\"password\" type=\"password\"></label>\n<button>Log in</button>\n</form>\n</body>\n</html>\n";

fn html(status: StatusCode, page: &'static str) -> Answer {
    let mut headers = HeaderMap::new();
    let html = HeaderValue::from_static("text/html; charset=utf-8");
    headers.insert(CONTENT_TYPE, html);
    Answer {
        status,
        headers,
        body: page.into(),
    }
}

fn redirection(code: StatusCode, to: &str) -> Answer {
    let mut answer = html(
        code,
        "<!DOCTYPE html>\n<title>Moved</title>\n<p>Moved.</p>\n",
    );
    // A target came over the wire, so it is visible ASCII, and the rest was checked.
    if let Ok(to) = HeaderValue::try_from(to) {
        answer.headers.insert(LOCATION, to);
    }
    answer
}

/// Takes the body from an answer that has none.
///
/// # Source
/// RFC 9110 sections 15.3.5, 15.3.6 and 15.4.5.
fn bodiless_if_so(mut answer: Answer) -> Answer {
    if matches!(answer.status.as_u16(), 204 | 205 | 304) {
        answer.headers.remove(CONTENT_TYPE);
        answer.body = bytes::Bytes::new();
    }
    answer
}

/// # Source
/// RFC 9110 section 15.5.9: 408 says that the connection is closed.
fn closing_if_timed_out(mut answer: Answer) -> Answer {
    if answer.status == StatusCode::REQUEST_TIMEOUT {
        let close = HeaderValue::from_static("close");
        answer.headers.insert(CONNECTION, close);
    }
    answer
}
