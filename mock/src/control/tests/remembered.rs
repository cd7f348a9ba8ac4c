//! What is remembered of the wire, and what is not.

use http::HeaderName;

use crate::control::{Answered, Asked, Exchanges, Redaction};
use crate::dialect::AuthScheme;
use crate::sim::VirtualTime;

const AT: VirtualTime = VirtualTime::ZERO;

fn exchanges() -> Exchanges {
    let schemes = [
        AuthScheme::Query {
            parameter: "token".to_owned(),
        },
        AuthScheme::Header {
            name: HeaderName::from_static("x-key"),
            prefix: String::new(),
        },
    ];
    Exchanges::new(Redaction::new(Some("open se/same"), schemes.iter()))
}

fn pair(name: &str, value: &str) -> (String, String) {
    (name.to_owned(), value.to_owned())
}

fn asked(number: u64) -> Asked<'static> {
    Asked {
        at: AT,
        connection: 1,
        number,
        method: "GET",
        target: "/printer",
        fields: &[],
        body: b"",
    }
}

#[test]
fn keys_and_cookies_are_hidden_wherever_they_stand() {
    let mut exchanges = exchanges();
    exchanges.asked(Asked {
        target: "/a/open%20se%2Fsame?token=another&x=open%20se%2Fsame&y=2",
        fields: &[
            pair("authorization", "Basic b3Blbg=="),
            pair("cookie", "session=12"),
            pair("x-key", "a key of a real host"),
            pair("referer", "http://x/?k=open%20se%2Fsame"),
            pair("accept", "*/*"),
        ],
        body: br#"{"password":"open se/same","user":"me"}"#,
        ..asked(1)
    });
    exchanges.answered(Answered {
        at: AT,
        number: 1,
        status: 200,
        fields: &[pair("set-cookie", "session=12")],
        body: b"welcome, open se/same",
    });
    insta::assert_json_snapshot!(exchanges.since(0, 1));
}

#[test]
fn a_long_body_is_kept_as_its_beginning_and_its_length() {
    let mut exchanges = exchanges();
    let body = "\u{e9}".repeat(2000);
    exchanges.asked(Asked {
        body: body.as_bytes(),
        ..asked(1)
    });
    let kept = exchanges.since(0, 1).remove(0).body.unwrap();
    assert_eq!((kept.bytes, kept.text.len(), kept.cut), (4000, 1024, true));
}

#[test]
fn a_thousand_exchanges_are_remembered_and_no_more() {
    let mut exchanges = exchanges();
    for number in 1..=1500 {
        exchanges.asked(asked(number));
    }
    let numbers = |since, most| -> Vec<u64> {
        let kept = exchanges.since(since, most);
        kept.iter().map(|exchange| exchange.number).collect()
    };
    assert_eq!(numbers(0, usize::MAX).len(), 1000);
    assert_eq!(numbers(0, 2), [501, 502]);
    assert_eq!(numbers(1498, 5), [1499, 1500]);
    assert_eq!(exchanges.last(), 1500);
    let late = Answered {
        at: AT,
        number: 3,
        status: 200,
        fields: &[],
        body: b"",
    };
    assert!(exchanges.answered(late).is_none());
}
