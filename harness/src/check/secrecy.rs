//! The key is nobody else's business.

use std::time::Duration;

use coldbed_mock::dialect::AuthScheme;
use coldbed_mock::fault::{CertificateKind, Fault, Position, Span};
use coldbed_mock::sim::VirtualTime;
use http::StatusCode;

use super::{Area, Awaited, Check, Context, Field, Level, NotPlanned, Plan, Setup, Step};
use crate::oracle::{self, Trace, Verdict};

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "key-not-in-url",
        requirement: "the key is sent in a header field and never as part of a URL",
        source: "RFC 6750 section 5.3 (do not pass bearer tokens in page URLs)",
        provoked: "the watcher is given a key and answered as usual",
        judged: "no request target has the key in it, plainly, percent-encoded or in base64",
        plan: |context| {
            has_key_in_a_field(context)?;
            Ok(Plan::of([as_usual(5)]))
        },
        oracle: |trace, context| oracle::verify_key_not_in_url(trace, &context.key),
        ..SECRECY
    },
    Check {
        id: "key-sent-to-another-origin",
        requirement: "a redirect to another origin does not take the key there",
        source: "RFC 9110 section 15.4: fields of a request are looked at again before it is redirected",
        provoked: "requests are redirected to another port by 301, 302, 303, 307 and 308, one after the other",
        judged: "no request that comes there has the key in its target or in any field",
        plan: |context| {
            has_key_in_a_field(context)?;
            Ok(redirected(context))
        },
        oracle: |trace, context| oracle::verify_key_not_sent_elsewhere(trace, &context.key),
        ..SECRECY
    },
    Check {
        id: "key-printed",
        requirement: "the key stands in no line that the watcher writes, whatever goes wrong",
        source: "common practice: output ends up in logs, and logs in bug reports",
        provoked: "the watcher is answered as usual, and then met by eight kinds of trouble",
        judged: "no line of output or of the error stream has the key in it, plainly, percent-encoded or in base64",
        plan: |context| {
            has_key(context)?;
            Ok(troubles(context))
        },
        oracle: |trace, context| oracle::verify_key_not_printed(trace, &context.key),
        ..SECRECY
    },
    Check {
        id: "wrong-certificate-accepted",
        requirement: "a host whose certificate is expired, for another name or from an unknown authority is asked nothing",
        source: "RFC 9110 section 4.3.4; RFC 5280 section 6.1.3",
        provoked: "the host speaks TLS with a good certificate, and then shows each of the others on new connections",
        judged: "no request arrives over a connection on which such a certificate was shown",
        plan: |context| Ok(wrong_certificates(context)),
        oracle: |trace, _| oracle::verify_certificate_checked(trace),
        ..SECRECY
    },
    Check {
        id: "whole-answer-lost-at-tls-end",
        level: Level::Should,
        requirement: "an answer that came whole, by its length, is used though the connection ends without TLS' farewell",
        source: "RFC 9112 section 9.8",
        provoked: "the host speaks TLS, and ends each connection after the answer without close_notify",
        judged: "the watcher does not say unknown meanwhile; once, and got over, is passed over",
        needs: Field::Anything,
        plan: |_| Ok(no_farewell()),
        oracle: |trace, _| oracle::verify_tls_end_is_harmless(trace),
        ..SECRECY
    },
];

const SECRECY: Check = Check {
    id: "",
    area: Area::Secrecy,
    level: Level::Must,
    requirement: "",
    source: "",
    provoked: "",
    judged: "",
    scenario: "heat-up",
    needs: Field::Nothing,
    plan: |_| Ok(Plan::default()),
    oracle: |_: &Trace<'_>, _: &Context| Verdict::NotJudged {
        reason: String::new(),
    },
};

fn has_key(context: &Context) -> Result<(), NotPlanned> {
    match context.dialect.first().auth() {
        AuthScheme::None => Err(NotPlanned("the host asks for no key".to_owned())),
        _ => Ok(()),
    }
}

fn has_key_in_a_field(context: &Context) -> Result<(), NotPlanned> {
    has_key(context)?;
    match context.dialect.first().auth() {
        AuthScheme::Query { .. } => Err(NotPlanned(
            "the host itself wants the key in the URL".to_owned(),
        )),
        _ => Ok(()),
    }
}

fn as_usual(answers: usize) -> Step {
    Step::Visit {
        from: Some(VirtualTime::new(Duration::from_secs(300))),
        per_poll: Duration::from_secs(2),
        answers,
    }
}

/// Nothing is waited for longer than this: of who asks so seldom, more is not learned in a run.
const LONGEST: Duration = Duration::from_secs(60);

/// Waits for what comes with the next poll, or with the one after a back-off.
fn wait_for(context: &Context, what: Awaited) -> Step {
    Step::Await {
        what,
        within: (9 * context.timing.longest_interval).min(LONGEST) + Duration::from_secs(3),
    }
}

/// Lets a poll meet a trouble, and the watcher get over it.
fn met_by(context: &Context, label: &str, trouble: Step) -> Step {
    Step::Trial {
        label: label.to_owned(),
        steps: vec![
            trouble,
            // Of a connection that is refused nothing is seen but the claim.
            Step::Await {
                what: Awaited::UnknownClaim,
                within: context.timing.longest_interval + Duration::from_secs(3),
            },
            Step::Wait(Duration::from_millis(200)),
            Step::ClearFaults,
            wait_for(context, Awaited::Answers(1)),
        ],
    }
}

fn redirected(context: &Context) -> Plan {
    let codes = [301, 302, 303, 307, 308];
    let trials = codes.map(|code| {
        met_by(
            context,
            &format!("redirected by {code}"),
            Step::RedirectElsewhere(code),
        )
    });
    Plan {
        setup: Setup {
            elsewhere: true,
            ..Setup::default()
        },
        steps: [vec![as_usual(2)], trials.into()].concat(),
    }
}

fn troubles(context: &Context) -> Plan {
    let faults = [
        ("the connection is refused", Fault::Refuse),
        (
            "the connection is reset",
            Fault::reset_at(Position::BodyByte(20)),
        ),
        (
            "the answer is cut short",
            Fault::Close {
                at: Position::BodyByte(20),
            },
        ),
        ("the answer is no HTTP", Fault::Garbage { text: None }),
        ("a page for people comes", Fault::LoginPage),
        ("the key is refused", Fault::KeyRevoked),
        (
            "the host is not ready",
            Fault::status(StatusCode::SERVICE_UNAVAILABLE),
        ),
    ];
    let trials = faults
        .map(|(label, fault)| met_by(context, label, Step::RaiseFault(fault.into())))
        .into_iter();
    let away = met_by(
        context,
        "redirected to another origin",
        Step::RedirectElsewhere(302),
    );
    Plan {
        setup: Setup {
            elsewhere: true,
            ..Setup::default()
        },
        steps: std::iter::once(as_usual(3))
            .chain(trials)
            .chain([away])
            .collect(),
    }
}

fn over_tls(steps: Vec<Step>) -> Plan {
    Plan {
        setup: Setup {
            tls: true,
            ..Setup::default()
        },
        steps,
    }
}

fn wrong_certificates(context: &Context) -> Plan {
    let kinds = [
        ("expired", CertificateKind::Expired),
        ("for another name", CertificateKind::WrongName),
        ("from an unknown authority", CertificateKind::UnknownIssuer),
    ];
    let trials = kinds.map(|(label, is)| Step::Trial {
        label: format!("a certificate that is {label}"),
        steps: vec![
            wait_for(context, Awaited::Answers(1)),
            Step::RaiseFault(Fault::TlsCertificate { is }.into()),
            // A connection that is kept was begun with the good one.
            Step::RaiseFault(close_idle(context).into()),
            Step::Wait((2 * context.timing.longest_interval).min(LONGEST) + Duration::from_secs(1)),
        ],
    });
    over_tls([vec![as_usual(2)], trials.into()].concat())
}

/// Half an interval leaves time for a request after the handshake, and none until the next poll.
fn close_idle(context: &Context) -> Fault {
    let after = (context.timing.interval / 2).min(Duration::from_secs(1));
    Fault::CloseIdle { after: Span(after) }
}

fn no_farewell() -> Plan {
    over_tls(vec![
        as_usual(2),
        Step::Trial {
            label: "no close_notify".to_owned(),
            steps: vec![
                Step::RaiseFault(Fault::TlsWithoutNotify.into()),
                Step::Visit {
                    from: None,
                    per_poll: Duration::from_secs(2),
                    answers: 5,
                },
            ],
        },
    ])
}
