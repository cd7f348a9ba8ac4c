//! The file: what is written is read, what is torn is said, and the schema is fresh.

use std::time::Duration;

use bytes::Bytes;
use proptest::prelude::*;

use super::*;
use crate::model::*;

const SCHEMA: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../schemas/session.schema.json"
);

fn moment() -> impl Strategy<Value = Duration> {
    (0..100_000_000_u64).prop_map(Duration::from_micros)
}

fn body() -> impl Strategy<Value = Body> {
    prop_oneof![
        ".{0,20}".prop_map(|text| Body::from(text.as_str())),
        proptest::collection::vec(any::<u8>(), 0..20)
            .prop_map(|bytes| Body::from(Bytes::from(bytes))),
        (1..1000_u64).prop_map(|bytes| Body::Withheld(Withheld {
            bytes,
            reason: "too long".to_owned()
        })),
    ]
}

fn end() -> impl Strategy<Value = End> {
    prop::sample::select(vec![
        End::Complete,
        End::Reset,
        End::Refused,
        End::TimedOut,
        End::NotHttp,
    ])
}

fn fields() -> impl Strategy<Value = Vec<(String, String)>> {
    proptest::collection::vec(("[A-Za-z-]{1,9}", "[ -~]{0,12}"), 0..4)
}

fn outcome(at: Duration) -> impl Strategy<Value = Option<Outcome>> {
    let whole = (fields(), body(), end(), proptest::option::of(body())).prop_map(
        move |(fields, body, end, raw)| {
            let pieces = vec![Piece {
                after_seconds: Duration::from_millis(3),
                bytes: 70,
            }];
            Some(Outcome::Answered(Answer {
                status: 200,
                reason: "OK".to_owned(),
                version: Spoken::Http10,
                fields,
                framing: Framing::Chunked,
                content: Content::Whole {
                    body,
                    chunks: vec![3],
                    pieces,
                    raw,
                },
                ended: Some((at, end)),
            }))
        },
    );
    let pushed = prop_oneof![
        body().prop_map(Pushed::Bytes),
        body().prop_map(|body| {
            Pushed::Frame(Frame {
                from: Sender::Watcher,
                kind: FrameKind::Text,
                body,
            })
        }),
    ];
    let stream = (
        proptest::collection::vec(pushed, 0..4),
        proptest::option::of(end()),
    )
        .prop_map(move |(pushed, end)| {
            Some(Outcome::Answered(Answer {
                status: 101,
                reason: String::new(),
                version: Spoken::Http11,
                fields: Vec::new(),
                framing: Framing::Close,
                content: Content::Stream {
                    begun: at,
                    kind: StreamKind::Frames,
                    pushed: pushed.into_iter().map(|pushed| (at, pushed)).collect(),
                },
                ended: end.map(|end| (at, end)),
            }))
        });
    let none = (end(), body())
        .prop_map(move |(end, received)| Some(Outcome::NoAnswer { at, end, received }));
    prop_oneof![Just(None), whole, stream, none]
}

fn session() -> impl Strategy<Value = Session> {
    let exchange =
        (moment(), body(), fields(), any::<bool>()).prop_flat_map(|(at, body, fields, old)| {
            outcome(at + Duration::from_millis(5)).prop_map(move |outcome| Exchange {
                number: 0,
                connection: 1,
                request: Request {
                    at,
                    method: "GET".to_owned(),
                    target: "/job?part=1".to_owned(),
                    version: if old { Spoken::Http10 } else { Spoken::Http11 },
                    fields: fields.clone(),
                    body: body.clone(),
                },
                outcome,
            })
        });
    (
        proptest::collection::vec(exchange, 0..5),
        any::<bool>(),
        moment(),
    )
        .prop_map(|(mut exchanges, tls, closed)| {
            for (exchange, number) in exchanges.iter_mut().zip(1..) {
                exchange.number = number;
            }
            Session {
                recorded_at: Some("2026-11-24T21:03:11Z".to_owned()),
                replaced: vec!["field authorization".to_owned()],
                connections: vec![Connection {
                    number: 1,
                    opened: Duration::ZERO,
                    tls,
                    closed: Some((closed, ClosedBy::Host, tls)),
                }],
                exchanges,
                ..Session::default()
            }
        })
}

proptest! {
    #[test]
    fn what_is_written_is_read(session in session()) {
        let read = SessionFile::read(&session.text()).unwrap();
        prop_assert_eq!(read.session, session);
        prop_assert_eq!(read.torn_bytes, 0);
    }

    #[test]
    fn every_line_is_valid_by_the_schema(session in session()) {
        let validator = jsonschema::draft202012::new(&schema()).unwrap();
        for line in session.text().lines() {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            prop_assert!(validator.is_valid(&line), "{}", line);
        }
    }

    #[test]
    fn a_file_cut_anywhere_is_read_up_to_there(session in session(), share in 0.0..1.0_f64) {
        let text = session.text();
        let first = text.find('\n').unwrap() + 1;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "an index")]
        let mut cut = first + ((text.len() - first) as f64 * share) as usize;
        while !text.is_char_boundary(cut) {
            cut -= 1;
        }
        let whole_lines = text[..cut].rfind('\n').unwrap() + 1;
        let read = SessionFile::read(&text[..cut]).unwrap();
        // A line that lacks nothing but its end is whole.
        if read.torn_bytes > 0 {
            prop_assert_eq!(read.torn_bytes, cut - whole_lines);
            prop_assert_eq!(read.session, SessionFile::read(&text[..whole_lines]).unwrap().session);
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in "\\PC{0,200}") {
        let _ = SessionFile::read(&text);
        let _ = SessionFile::read(&format!("{{\"line\":\"session\",\"version\":1}}\n{text}"));
    }
}

#[test]
fn the_sessions_schema_file_is_what_the_reader_says() {
    let fresh = format!("{:#}\n", schema());
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(SCHEMA, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(SCHEMA).unwrap_or_default();
    assert!(
        kept == fresh,
        "schemas/session.schema.json is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed-session the_sessions_schema_file"
    );
}

fn refusal(text: &str) -> String {
    let error = SessionFile::read(text).unwrap_err();
    let mut told = error.to_string();
    let mut source = std::error::Error::source(&error);
    while let Some(error) = source {
        told = format!("{told}: {error}");
        source = error.source();
    }
    told
}

#[test]
fn what_is_wrong_with_a_file_is_said_with_its_line() {
    const HEAD: &str = "{\"line\":\"session\",\"version\":1}\n";
    const OPENED: &str = "{\"line\":\"connection-opened\",\"at-seconds\":0,\"connection\":1}\n";
    const LATER: &str = "{\"line\":\"connection-opened\",\"at-seconds\":3,\"connection\":1}\n";
    const CLOSED: &str =
        "{\"line\":\"connection-closed\",\"at-seconds\":AT,\"connection\":1,\"by\":\"host\"}\n";
    const NO_ANSWER: &str =
        "{\"line\":\"no-answer\",\"at-seconds\":AT,\"exchange\":1,\"end\":\"reset\"}\n";
    let request = |at: f64| {
        format!(
            "{{\"line\":\"request\",\"at-seconds\":{at},\"connection\":1,\"exchange\":1,\"method\":\"GET\",\"target\":\"/\",\"fields\":[]}}\n"
        )
    };
    let cases = [
        String::new(),
        "{\"line\":\"request\"}\n".to_owned(),
        "{\"line\":\"session\",\"version\":7}\n".to_owned(),
        format!("{HEAD}{{\"line\":\"answered\"}}\n"),
        format!("{HEAD}{{\"line\":\"connection-opened\",\"at-seconds\":-1,\"connection\":1}}\n"),
        format!("{HEAD}{OPENED}{OPENED}"),
        format!(
            "{HEAD}{{\"line\":\"stream-ended\",\"at-seconds\":0,\"exchange\":4,\"end\":\"reset\"}}\n"
        ),
        format!("{HEAD}not json\n"),
        format!("{HEAD}{LATER}{}", request(2.0)),
        format!("{HEAD}{LATER}{}", CLOSED.replace("AT", "2")),
        format!(
            "{HEAD}{LATER}{}{}",
            request(4.0),
            NO_ANSWER.replace("AT", "3.5")
        ),
    ];
    let told: Vec<String> = cases.iter().map(|text| refusal(text)).collect();
    insta::assert_snapshot!(told.join("\n"));
}
