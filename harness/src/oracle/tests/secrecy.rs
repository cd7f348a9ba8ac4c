//! The key.

use super::*;
use coldbed_mock::fault::{CertificateKind, Fault};

const KEY: &str = "a=very/secret=key";
/// By base64 (RFC 4648) of `u:` and the key, as Basic credentials are written (RFC 7617).
const BASIC: &str = "Basic dTphPXZlcnkvc2VjcmV0PWtleQ==";

#[test]
fn a_key_in_a_url_is_found_plain_and_percent_encoded_and_never_repeated_in_the_report() {
    let asked = |target: &str| {
        let run = Run::default().request(0, "GET", target, &[]);
        run.judge(|trace| verify_key_not_in_url(trace, KEY))
    };
    assert_held(&asked("/printer?k=other"));
    assert_violated(&asked("/printer?k=a=very/secret=key"), "/printer?k=KEY");
    assert_violated(
        &asked("/printer?k=a%3Dvery%2Fsecret%3Dkey"),
        "/printer?k=KEY",
    );
    let nothing = Run::default();
    assert_not_judged(&nothing.judge(|trace| verify_key_not_in_url(trace, KEY)));
}

fn redirected(headers: Option<&[(&str, &str)]>) -> Verdict {
    let run = Run::default()
        .trial(0, "302")
        .get(10)
        .status(20, 10, 302, &[]);
    let run = match headers {
        Some(headers) => run.note(
            30,
            EventKind::Elsewhere {
                target: "/printer".to_owned(),
                headers: headers
                    .iter()
                    .map(|(name, value)| ((*name).to_owned(), (*value).to_owned()))
                    .collect(),
            },
        ),
        None => run,
    };
    run.trial_ended(1000)
        .judge(|trace| verify_key_not_sent_elsewhere(trace, KEY))
}

#[test]
fn another_origin_may_be_asked_without_the_key_only() {
    assert_held(&redirected(None));
    assert_held(&redirected(Some(&[("accept", "*/*")])));
    let bearer = format!("Bearer {KEY}");
    for value in [bearer.as_str(), BASIC, KEY] {
        let told = redirected(Some(&[("authorization", value)]));
        let observed = "the key in the field authorization of a request to it";
        assert_violated(&told, observed);
    }
    let never = Run::default().trial(0, "302").trial_ended(10);
    assert_not_judged(&never.judge(|trace| verify_key_not_sent_elsewhere(trace, KEY)));
}

fn printed(text: &str, on_stderr: bool) -> Verdict {
    let text = text.to_owned();
    Run::default()
        .trial(0, "refused")
        .note(10, EventKind::Line { on_stderr, text })
        .trial_ended(20)
        .judge(|trace| verify_key_not_printed(trace, KEY))
}

#[test]
fn the_key_is_found_in_a_line_in_any_form_and_not_repeated() {
    assert_held(&printed("no usable answer: TimeoutError", true));
    let shown = "on the error stream: GET with Bearer KEY";
    assert_violated(&printed(&format!("GET with Bearer {KEY}"), true), shown);
    let encoded = printed("http://h/?k=a%3Dvery%2Fsecret%3Dkey", false);
    assert_violated(&encoded, "on the output: http://h/?k=KEY");
    assert!(matches!(printed(BASIC, true), Verdict::Violated(_)));
}

fn shown_a_certificate(asked: bool) -> Verdict {
    let is = CertificateKind::Expired;
    let shown = EventKind::FaultHappened {
        connection: 5000,
        exchange: None,
        fault: Arc::new(Fault::TlsCertificate { is }.into()),
    };
    let run = Run::default()
        .get(0)
        .status(1, 0, 200, &[])
        .trial(1000, "expired")
        .note(4990, shown);
    // The connection has the number 5000, as `get` gives it.
    let run = if asked { run.get(5000) } else { run };
    run.trial_ended(9000).judge(verify_certificate_checked)
}

#[test]
fn nothing_is_asked_after_a_wrong_certificate() {
    assert_held(&shown_a_certificate(false));
    let asked = shown_a_certificate(true);
    assert_violated(&asked, "GET /printer, with all its fields");
    let not_met = Run::default()
        .get(0)
        .status(1, 0, 200, &[])
        .trial(1000, "expired")
        .get(2000)
        .trial_ended(3000);
    assert_not_judged(&not_met.judge(verify_certificate_checked));
    assert_not_judged(&Run::default().judge(verify_certificate_checked));
}

fn ended_without_farewell(claims: &[&str]) -> Verdict {
    let fault = EventKind::FaultHappened {
        connection: 2000,
        exchange: Some(2000),
        fault: Arc::new(Fault::TlsWithoutNotify.into()),
    };
    let run = Run::default()
        .get(0)
        .status(1, 0, 200, &[])
        .trial(1000, "no close_notify")
        .get(2000)
        .status(2001, 2000, 200, &[])
        .note(2002, fault);
    let times = (2010..).step_by(1000);
    claims
        .iter()
        .zip(times)
        .fold(run, |run, (line, at)| run.claim(at, line))
        .trial_ended(9000)
        .judge(verify_tls_end_is_harmless)
}

#[test]
fn an_answer_that_came_whole_is_used_however_the_connection_ends() {
    let (known, unknown) = (r#"{"phase":"heating"}"#, r#"{"phase":"unknown"}"#);
    assert_held(&ended_without_farewell(&[known, known]));
    assert_held(&ended_without_farewell(&[known, unknown, known]));
    let lost = ended_without_farewell(&[unknown]);
    assert_violated(&lost, "claims of unknown: 1");
    let lost = ended_without_farewell(&[unknown, known, unknown, known]);
    assert_violated(&lost, "claims of unknown: 2");
    assert_not_judged(&Run::default().judge(verify_tls_end_is_harmless));
}
