//! A request, as a dialect sees it.

use std::sync::{Arc, LazyLock};

use coldbed_mock::dialect::{
    Access, Answer, Decided, Dialect, DialectFile, Matched, Rendered, Request, Routed,
};
use coldbed_mock::sim::Truth;
use http::{HeaderMap, HeaderName, HeaderValue, Method, Uri};
use serde_json::Value;

use super::printing;

/// Every version of every built-in dialect.
static DIALECTS: LazyLock<Vec<Arc<Dialect>>> = LazyLock::new(|| {
    DialectFile::builtin_names()
        .map(|name| DialectFile::builtin(name).expect("a built-in text parses"))
        .flat_map(|file| file.versions().to_vec())
        .collect()
});

/// What may be true: before there is a job, and during it.
static TRUTHS: LazyLock<[Truth; 2]> =
    LazyLock::new(|| [printing::truth_at_s(0), printing::truth_at_s(7200)]);

/// What may be asked for: nothing, a key, a log-in.
const ACCESSES: [Access<'static>; 3] = [
    Access::OPEN,
    Access {
        key: Some("sesame"),
        key_is_good: true,
        logged_in: false,
    },
    Access {
        key: Some("sesame"),
        key_is_good: false,
        logged_in: true,
    },
];

/// Is a request read from `METHOD TARGET`, lines of fields, an empty line, and the body.
struct Written {
    method: Method,
    target: Uri,
    headers: HeaderMap,
    body: Vec<u8>,
}

/// Takes a request through every built-in dialect. Whoever asks gets an answer with a status that
/// ends an exchange, and a body called JSON is JSON.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    let Some(written) = Written::read(bytes) else {
        return;
    };
    let request = Request {
        method: &written.method,
        path: written.target.path(),
        query: written.target.query(),
        headers: &written.headers,
        body: &written.body,
    };
    for dialect in DIALECTS.iter() {
        for truth in TRUTHS.iter() {
            for access in &ACCESSES {
                let answer = answered(dialect, &request, access, truth);
                check(&dialect.for_request(&request, answer), &request);
            }
        }
    }
}

fn answered(
    dialect: &Dialect,
    request: &Request<'_>,
    access: &Access<'_>,
    truth: &Truth,
) -> Answer {
    match dialect.route(request, access) {
        Routed::Answer(answer) => answer,
        Routed::Body(matched) | Routed::Push(matched) | Routed::LogOut(matched) => {
            shown(dialect, &matched, truth)
        }
        Routed::Command(matched) => match dialect.order(&matched, request, truth) {
            Err(problem) => dialect.problem(&problem),
            Ok(order) => {
                let decided = dialect.decide(&matched, &order, truth);
                match decided.expect("a checked dialect decides") {
                    Some(Decided::Answer(answer)) => answer,
                    Some(Decided::DoneAlready) | None => shown(dialect, &matched, truth),
                }
            }
        },
        Routed::LogIn(matched) => match dialect.log_in(&matched, request, truth, access) {
            Err(problem) => dialect.problem(&problem),
            Ok(_key) => {
                let rendered = dialect.render_log_in(&matched, truth, "token");
                let rendered = rendered.expect("a checked dialect renders");
                finished(dialect, &matched, truth, rendered)
            }
        },
    }
}

fn shown(dialect: &Dialect, matched: &Matched, truth: &Truth) -> Answer {
    let rendered = dialect.render(matched, truth);
    let rendered = rendered.expect("a checked dialect renders");
    finished(dialect, matched, truth, rendered)
}

fn finished(dialect: &Dialect, matched: &Matched, truth: &Truth, rendered: Rendered) -> Answer {
    let finished = dialect.finish(matched, truth, rendered);
    finished.expect("a checked dialect has good fields")
}

fn check(answer: &Answer, request: &Request<'_>) {
    assert!(!answer.status.is_informational(), "{answer:?}");
    let content_type = answer.headers.get(http::header::CONTENT_TYPE);
    let is_json = content_type.is_some_and(|name| name.as_bytes().ends_with(b"json"));
    if is_json && !answer.body.is_empty() && request.method != Method::HEAD {
        let parsed = serde_json::from_slice::<Value>(&answer.body);
        assert!(parsed.is_ok(), "{answer:?}");
    }
}

impl Written {
    /// Reads a request; `None` for what the server would not pass on.
    fn read(bytes: &[u8]) -> Option<Self> {
        if bytes.len() > super::MOST_BYTES {
            return None;
        }
        let begin = bytes.windows(2).position(|pair| pair == b"\n\n");
        let (head, body) = match begin {
            Some(begin) => (&bytes[..begin], &bytes[begin + 2..]),
            None => (bytes, &b""[..]),
        };
        let mut lines = head.split(|byte| *byte == b'\n');
        let mut first = lines.next()?.splitn(2, |byte| *byte == b' ');
        let method = Method::from_bytes(first.next()?).ok()?;
        let target = Uri::try_from(first.next()?).ok()?;
        let mut headers = HeaderMap::new();
        for line in lines {
            let colon = line.iter().position(|byte| *byte == b':')?;
            let name = HeaderName::from_bytes(&line[..colon]).ok()?;
            let value = HeaderValue::from_bytes(line[colon + 1..].trim_ascii()).ok()?;
            headers.append(name, value);
        }
        Some(Self {
            method,
            target,
            headers,
            body: body.to_vec(),
        })
    }
}

/// Gives requests for every path that a built-in dialect writes down.
pub fn seeds() -> Vec<Vec<u8>> {
    const FIELDS: &str = "Authorization: Bearer sesame\nCookie: session=token; key=\"sesame\"\n\
        Accept-Encoding: gzip;q=0.5, *;q=0\nIf-None-Match: W/\"0\", *\nOrigin: http://a.invalid\n\
        Access-Control-Request-Method: PUT\nIdempotency-Key: \"8e03978e\"\n\
        Content-Type: application/json";
    let texts = DialectFile::builtin_names().filter_map(DialectFile::builtin_text);
    let lines = texts.flat_map(str::lines);
    let mut paths: Vec<&str> = lines
        .filter_map(|line| line.strip_prefix("path = \"")?.split('"').next())
        .collect();
    paths.sort_unstable();
    paths.dedup();
    let asked = paths.into_iter().flat_map(|path| {
        let path = path.replace("{name}", "extruder").replace("{id}", "1");
        [
            format!("GET {path}?fields=a%20b&n=1\n{FIELDS}"),
            format!(
                "POST {path}\n{FIELDS}\n\n{{\"target-celsius\": 60.5, \"command\": \"pause\"}}"
            ),
            format!("PUT {path}\n{FIELDS}\n\n{{\"target-celsius\": 60.5}}"),
        ]
    });
    let others = [
        "OPTIONS *",
        "HEAD /printer",
        "BREW /",
        "GET http://a.invalid/%ff%00/../x?%",
    ];
    asked
        .chain(others.map(str::to_owned))
        .map(String::into_bytes)
        .collect()
}
