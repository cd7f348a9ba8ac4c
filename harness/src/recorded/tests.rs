//! How recorded answers are heard, and how expectations are read.

use std::sync::{LazyLock, Mutex};

use coldbed_mock::dialect::{DialectFile, Told};
use coldbed_mock::sim::Phase;
use coldbed_session::{End, Session, SessionFile};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;

/// Gives a session of answers to `GET /printer`: status, coding and content each, ten seconds apart.
fn session(answers: &[(u16, &str, &str)]) -> Session {
    let mut lines = vec![
        json!({ "line": "session", "version": 1 }),
        json!({ "line": "connection-opened", "at-seconds": 0, "connection": 1 }),
    ];
    for (number, (status, coding, text)) in (1_u64..).zip(answers) {
        let at = number * 10;
        lines.push(
            json!({ "line": "request", "at-seconds": at, "connection": 1, "exchange": number,
            "method": "GET", "target": "/printer", "fields": [] }),
        );
        lines.push(
            json!({ "line": "answer", "at-seconds": at, "exchange": number, "status": status,
            "reason": "", "fields": [["Content-Encoding", coding]], "body": { "text": text },
            "framing": "length", "pieces": [], "end": "complete" }),
        );
    }
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    SessionFile::read(&text).unwrap().session
}

fn hearing(expectations: &str) -> Hearing {
    let dialect = DialectFile::builtin("plain").unwrap();
    let expectations = match expectations {
        "" => Expectations::default(),
        text => Expectations::parse(text).unwrap(),
    };
    Hearing::new(dialect.first(), expectations)
}

fn body(extruder: &Value) -> String {
    json!({
        "printer-state": "idle", "printer-state-reasons": [], "printer-up-time": 9,
        "heaters": { "extruder": { "actual-celsius": extruder, "target-celsius": 0.0 },
                     "platform": { "actual-celsius": 22.5, "target-celsius": 0.0 } },
        "job": null,
    })
    .to_string()
}

fn extruder(heard: &Heard) -> Option<Told<f64>> {
    let quantity = coldbed_mock::dialect::Quantity::Actual("extruder".to_owned());
    heard.number(&quantity).cloned()
}

fn value(told: Option<&Told<f64>>) -> Option<f64> {
    match told {
        Some(Told::Value { value, .. }) => Some(*value),
        _ => None,
    }
}

#[test]
fn an_answer_says_what_the_dialect_reads_in_it_and_304_what_was_said_before() {
    let session = session(&[
        (304, "", ""),
        (200, "", &body(&json!(23.4))),
        (304, "", ""),
        (200, "", &body(&json!(null))),
        (200, "", &body(&json!("hot"))),
    ]);
    let mut hearing = hearing("");
    let heard: Vec<Heard> = (session.exchanges.iter())
        .map(|exchange| hearing.hear(exchange, Some(End::Complete)))
        .collect();
    assert!(!heard[0].is_usable(), "nothing was said before");
    assert_eq!(
        heard[1].phase(),
        Some(&Told::Value {
            value: vec![Phase::Idle],
            slack: 0.0
        })
    );
    assert!((value(extruder(&heard[1]).as_ref()).unwrap() - 23.4).abs() < 0.1);
    assert_eq!(extruder(&heard[2]), extruder(&heard[1]));
    assert_eq!(extruder(&heard[3]), Some(Told::Unknown));
    assert!(matches!(extruder(&heard[4]), Some(Told::Unreadable(_))));
}

#[test]
fn what_a_watcher_may_not_believe_is_told_from_what_is_not_read_here() {
    let good = body(&json!(23.4));
    let session = session(&[
        (500, "", &good),
        (200, "", "{\"printer-state\""),
        (200, "", "3"),
        (200, "br", &good),
    ]);
    let mut hearing = hearing("");
    let said: Vec<String> = (session.exchanges.iter())
        .map(
            |exchange| match hearing.hear(exchange, Some(End::Complete)).said {
                Said::Told(_) => "told".to_owned(),
                Said::Unusable(why) => format!("unusable: {why}"),
                Said::NotRead(why) => format!("not read: {why}"),
            },
        )
        .collect();
    insta::assert_snapshot!(said.join("\n"));
    let cut = hearing.hear(&session.exchanges[0], Some(End::Reset));
    assert!(!cut.is_usable());
}

#[test]
fn the_last_expectation_that_speaks_of_a_quantity_counts() {
    let good = body(&json!(23.4));
    let session = session(&[(200, "", &good), (200, "", &good)]);
    let mut hearing = hearing(
        "[[expect]]\nfrom = \"5s\"\nphase = [\"paused\", \"error\"]\n\
         [expect.heaters.extruder]\nactual-celsius = { least = 20, most = 30 }\n\
         [[expect]]\nexchange = 2\nphase = \"unknown\"\n",
    );
    let heard: Vec<Heard> = (session.exchanges.iter())
        .map(|exchange| hearing.hear(exchange, Some(End::Complete)))
        .collect();
    let both = vec![Phase::Paused, Phase::Error];
    assert_eq!(
        heard[0].phase(),
        Some(&Told::Value {
            value: both,
            slack: 0.0
        })
    );
    assert_eq!(heard[1].phase(), Some(&Told::Unknown));
    assert_eq!(
        extruder(&heard[0]),
        Some(Told::Value {
            value: 25.0,
            slack: 5.0
        })
    );
}

#[test]
fn an_expectation_that_makes_no_sense_is_told_with_its_place() {
    let messages: Vec<String> = [
        "",
        "[[expect]]\n",
        "[[expect]]\nphase = \"printed\"\n",
        "[[expect]]\nfrom = \"2\"\nphase = \"idle\"\n",
        "[[expect]]\nfrom = \"2m\"\nuntil = \"1m\"\nphase = \"idle\"\n",
        "[[expect]]\nexchange = 1\nfrom = \"2m\"\nphase = \"idle\"\n",
        "[[expect]]\nprogress-percent = { least = 5, most = 1 }\n",
        "[[expect]]\nprogress-percent = \"half\"\n",
        "[[expect]]\nphase = \"idle\"\n[[expect]]\nprogress = 5\n",
    ]
    .iter()
    .map(|text| Expectations::parse(text).unwrap_err().to_string())
    .collect();
    insta::assert_snapshot!(messages.join("\n---\n"));
}

proptest! {
    #[test]
    fn any_text_of_expectations_is_read_or_refused(text in "(\\[\\[expect\\]\\]\n)?[a-z\\-]{1,8} = [0-9a-z\"{}\\[\\], =]{0,20}") {
        let _ = Expectations::parse(&text);
    }

    #[test]
    fn no_content_is_too_odd_to_be_heard(text in ".{0,60}", status in 100_u16..600) {
        // Made once: to find what follows what in a dialect takes a while.
        static HEARING: LazyLock<Mutex<Hearing>> = LazyLock::new(|| Mutex::new(hearing("")));
        let session = session(&[(status, "", &text)]);
        let heard = HEARING.lock().unwrap().hear(&session.exchanges[0], Some(End::Complete));
        prop_assert_eq!(heard.recorded, 1);
    }
}
