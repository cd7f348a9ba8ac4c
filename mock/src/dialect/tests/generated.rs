//! Dialects nobody wrote: what the check lets through has a body at every moment.
//!
//! The check tries bodies with samples, so it can vouch only for what some sample leads to. Where an
//! expression stands under two conditions at once, or under one on a number, it is therefore made of
//! what cannot fail: null-safe filters, complete tables, defaults. `docs/dialects.md` says so too.

use std::cell::Cell;

use proptest::prelude::*;
use proptest::strategy::BoxedStrategy;
use proptest::test_runner::{Config, TestRunner};

use super::every::{TRUTHS, everything, fault};
use crate::dialect::Dialect;

/// What is known where an expression stands.
#[derive(Debug, Clone, Copy, Default)]
struct Known {
    /// Conditions round it that samples lead through one at a time.
    conditions: u32,
    /// There is a job.
    job: bool,
    /// `h` is a heater and `n` its name.
    heater: bool,
    /// `r` is a reason.
    reason: bool,
    /// `i` is a small number.
    index: bool,
}

impl Known {
    /// Nothing may be used here that fails for one value or another.
    fn careful(self) -> bool {
        self.conditions > 1
    }

    fn under(self, conditions: u32) -> Self {
        Self {
            conditions: self.conditions + conditions,
            ..self
        }
    }
}

fn one_of(choices: Vec<&'static str>) -> BoxedStrategy<String> {
    prop::sample::select(choices)
        .prop_map(str::to_owned)
        .boxed()
}

fn number_atoms(known: Known) -> BoxedStrategy<String> {
    let mut atoms = vec![
        "at",
        "printer.up_time_seconds",
        "printer.clock_unix_seconds",
        "printer.host_updates",
        "heaters.extruder.actual_celsius",
        "heaters.platform.target_celsius",
        "(printer.reasons | length)",
        "(heaters | length)",
        "0",
        "3",
        "2.5",
        "none",
    ];
    if known.job {
        atoms.extend([
            "job.id",
            "job.progress_percent",
            "job.elapsed_seconds",
            "job.remaining_seconds",
            "job.true_remaining_seconds",
            "job.layer",
            "job.height_mm",
            "job.filament_mm",
            "(job.name | length)",
        ]);
    }
    if known.heater {
        atoms.extend(["h.actual_celsius", "h.target_celsius", "h.power_watts"]);
    }
    if known.index {
        atoms.push("i");
    }
    one_of(atoms)
}

fn text_atoms(known: Known) -> BoxedStrategy<String> {
    let mut atoms = vec![
        "phase",
        "printer.state",
        "printer.host_version",
        "words.phase[phase]",
        "words.two[phase].a",
        "words.state[printer.state]",
        "(words.few[phase] | default('else'))",
        "(printer.reasons | join(', '))",
        "'plain'",
        "''",
    ];
    let mut rash = vec![
        "words.few[phase]",
        "printer.reasons[0]",
        "(printer.reasons | first)",
        "(phase | upper)",
        "(printer.host_version | title)",
    ];
    if known.job {
        atoms.extend([
            "job.name",
            "job.state",
            "words.job[job.state]",
            "job.name[-2:]",
        ]);
        rash.extend([
            "job.reasons[0]",
            "job.name[3]",
            "(job.name | replace('a', 'b'))",
        ]);
    }
    if known.heater {
        atoms.extend(["n", "h.kind", "words.kind[h.kind]", "n[0]"]);
    }
    if known.reason {
        atoms.extend(["r", "(words.reason[r] | default(r))"]);
        rash.push("words.reason[r]");
    }
    if !known.careful() {
        atoms.extend(rash);
    }
    one_of(atoms)
}

/// Give null for null.
const TO_NUMBER: [&str; 13] = [
    "round(1)",
    "whole",
    "floor",
    "ceil",
    "fahrenheit",
    "kelvin",
    "fraction",
    "minutes",
    "milliseconds",
    "scale(2, 1)",
    "clamp(0, 100)",
    "unix",
    "default(0)",
];

const TO_TEXT: [&str; 10] = [
    "fixed(1)",
    "digits(3)",
    "hms",
    "hm",
    "duration",
    "rfc3339",
    "http_date",
    "format_time('%H:%M')",
    "text",
    "string",
];

const OF_TEXT: [&str; 4] = ["ascii", "shorten(3)", "senml_name", "text"];

fn numbers(known: Known) -> BoxedStrategy<String> {
    let divisors = number_atoms(known);
    number_atoms(known)
        .prop_recursive(3, 12, 2, move |inner| {
            let filter = prop::sample::select(&TO_NUMBER[..]);
            let two = prop::sample::select(&["plus", "minus"][..]);
            let safe = prop_oneof![
                4 => (inner.clone(), filter).prop_map(|(x, f)| format!("({x} | {f})")),
                1 => (inner.clone(), two, inner.clone())
                    .prop_map(|(x, f, y)| format!("({x} | {f}({y}))")),
                1 => inner.clone().prop_map(|x| format!("({x} or 0)")),
            ];
            if known.careful() {
                return safe.boxed();
            }
            let rash = prop::sample::select(&["abs", "float"][..]);
            let operator = prop::sample::select(&["+", "-", "*"][..]);
            // What is zero for one value only is no divisor that a sample can find.
            let division = prop::sample::select(&["/", "//", "%"][..]);
            prop_oneof![
                3 => safe,
                1 => (inner.clone(), rash).prop_map(|(x, f)| format!("({x} | {f})")),
                2 => (inner.clone(), operator, inner.clone())
                    .prop_map(|(x, o, y)| format!("({x} {o} {y})")),
                1 => (inner, division, divisors.clone())
                    .prop_map(|(x, o, y)| format!("({x} {o} {y})")),
            ]
            .boxed()
        })
        .boxed()
}

fn texts(known: Known) -> BoxedStrategy<String> {
    let of_number = (numbers(known), prop::sample::select(&TO_TEXT[..]));
    let atoms = prop_oneof![
        2 => text_atoms(known),
        1 => of_number.prop_map(|(x, f)| format!("({x} | {f})")),
    ];
    atoms
        .prop_recursive(2, 8, 2, |inner| {
            let filter = prop::sample::select(&OF_TEXT[..]);
            prop_oneof![
                (inner.clone(), filter).prop_map(|(x, f)| format!("({x} | {f})")),
                (inner.clone(), inner.clone()).prop_map(|(x, y)| format!("({x} ~ {y})")),
                inner.prop_map(|x| format!("({x} or 'else')")),
            ]
        })
        .boxed()
}

/// Makes a condition, and says how many it counts for.
fn condition(known: Known) -> BoxedStrategy<(String, u32)> {
    let tried = one_of(vec![
        "phase == 'printing'",
        "phase in ['idle', 'paused']",
        "phase != 'heating'",
        "printer.reasons",
        "printer.state == 'stopped'",
        "job",
        "not job",
    ]);
    let careful = known.under(2);
    let operator = prop::sample::select(&["<", ">=", "=="][..]);
    let compared = (numbers(careful), operator, numbers(careful));
    prop_oneof![
        3 => tried.prop_map(|condition| (condition, 1)),
        1 => compared.prop_map(|(x, o, y)| (format!("{x} {o} {y}"), 2)),
        1 => texts(careful).prop_map(|condition| (condition, 2)),
    ]
    .boxed()
}

fn expression(known: Known) -> BoxedStrategy<String> {
    let chosen = condition(known).prop_flat_map(move |(condition, weight)| {
        let known = known.under(weight);
        (numbers(known), texts(known))
            .prop_map(move |(x, y)| format!("{x} if {condition} else {y}"))
    });
    prop_oneof![
        4 => numbers(known),
        4 => texts(known),
        2 => chosen,
        1 => condition(known).prop_map(|(condition, _)| condition),
        1 => one_of(vec!["printer", "heaters", "job", "printer.reasons", "heaters | items | list"]),
    ]
    .boxed()
}

fn string(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

/// Makes a value without further ones inside.
fn leaf(known: Known) -> BoxedStrategy<String> {
    prop_oneof![
        1 => one_of(vec!["null", "true", "12", "-0.5", "\"plain\"", "[]", "{}"]),
        6 => expression(known).prop_map(|x| string(&format!("{{{{ {x} }}}}"))),
        2 => expression(known).prop_map(|x| string(&format!("so {{{{ {x} }}}} it is"))),
    ]
    .boxed()
}

/// Makes the JSON text of a body.
fn body(depth: u32, known: Known) -> BoxedStrategy<String> {
    if depth == 0 {
        return leaf(known);
    }
    let inner = move |known| body(depth - 1, known);
    let group = move |head: &'static str, known: Known| {
        inner(known).prop_map(move |value| format!("{}: {value}", string(head)))
    };
    let heater = Known {
        heater: true,
        ..known
    };
    let each_heater = "{% for n, h in heaters | items %}";
    let each_reason = "{% for r in printer.reasons %}";
    let in_job = Known { job: true, ..known };
    let alone = |member: String| format!("{{{member}}}");
    let if_else = condition(known).prop_flat_map(move |(condition, weight)| {
        let head = string(&format!("{{% if {condition} %}}"));
        let known = known.under(weight);
        (inner(known), inner(known))
            .prop_map(move |(x, y)| format!("{{{head}: {x}, \"{{% else %}}\": {y}}}"))
    });
    let members = prop::collection::vec(("[a-d]", inner(known)), 0..3).prop_map(|members| {
        let named = members.iter().enumerate();
        let members: Vec<String> = named
            .map(|(place, (name, value))| format!("\"{name}{place}\": {value}"))
            .collect();
        format!("{{{}}}", members.join(", "))
    });
    let by_name = body(depth - 1, heater).prop_map(move |value| {
        format!("{{{}: {{\"{{{{ n }}}}\": {value}}}}}", string(each_heater))
    });
    let bound = (
        numbers(known),
        body(
            depth - 1,
            Known {
                index: true,
                ..known
            },
        ),
    )
        .prop_map(|(x, value)| {
            format!(
                "{{{}: {value}}}",
                string(&format!("{{% with i = {x} or 0 %}}"))
            )
        });
    prop_oneof![
        2 => leaf(known),
        3 => members,
        2 => if_else,
        3 => group("{% if job %}", in_job).prop_map(alone),
        2 => by_name,
        1 => group(each_heater, heater).prop_map(|member| format!("[{{{member}}}]")),
        1 => group(each_reason, Known { reason: true, ..known.under(1) })
            .prop_map(|member| format!("[{{{member}}}]")),
        1 => group("{% for i in range(3) %}", Known { index: true, ..known })
            .prop_map(|member| format!("[{{{member}}}]")),
        1 => bound,
    ]
    .boxed()
}

fn dialect(body: &str, exists: &str) -> String {
    format!(
        r#"auth = {{ scheme = "none" }}
problem = {{ body = '"{{{{ detail }}}}"' }}

[words]
phase = {{ idle = "a", heating = "b", printing = "c", paused = "d", error = "e", finished = "f", cancelled = "g" }}
two = {{ idle = {{ a = "1" }}, heating = {{ a = "2" }}, printing = {{ a = "3" }}, paused = {{ a = "4" }}, error = {{ a = "5" }}, finished = {{ a = "6" }}, cancelled = {{ a = "7" }} }}
few = {{ printing = "busy" }}
state = {{ idle = "Ready", processing = "Busy", stopped = "Help" }}
job = {{ pending = "1", pending-held = "2", processing = "3", processing-stopped = "4", canceled = "5", aborted = "6", completed = "7" }}
kind = {{ extruder = "x", platform = "y", chamber = "z" }}
reason = {{ paused = "by hand", material-empty = "empty", extruder-heating-report = "warming" }}

[[routes]]
method = "GET"
path = "/"
exists = "{exists}"
body = '''
{body}
'''
"#
    )
}

/// How many dialects are made; more by the variable that all properties here go by.
fn cases() -> u32 {
    Config::default().cases * 8
}

#[test]
fn whatever_the_check_lets_through_has_a_body_at_every_moment() {
    let accepted = Cell::new(0_u32);
    let strategy = (
        body(3, Known::default()),
        prop_oneof![Just("true"), Just("job")],
        0..TRUTHS.len(),
    );
    let config = Config {
        cases: cases(),
        failure_persistence: None,
        ..Config::default()
    };
    let outcome = TestRunner::new(config).run(&strategy, |(body, exists, first)| {
        let text = dialect(&body, exists);
        let Ok(dialect) = Dialect::parse("generated", &text) else {
            return Ok(());
        };
        accepted.set(accepted.get() + 1);
        // Every so many truths, so that each dialect meets every scenario.
        for index in (first..).step_by(53).take(24) {
            let (scenario, truth) = &TRUTHS[index % TRUTHS.len()];
            // As a host does when it starts: the scenario may have no heater of that name.
            if dialect.check_heaters(&truth.heaters).is_err() {
                continue;
            }
            for said in everything(&dialect, truth, &["nobody"]) {
                let fault = fault(&said);
                prop_assert!(fault.is_none(), "{scenario} at {:?}: {fault:?}", truth.at);
            }
        }
        Ok(())
    });
    if let Err(error) = outcome {
        panic!("{error}");
    }
    let accepted = accepted.get();
    assert!(
        accepted > cases() / 8,
        "only {accepted} of {} were sound",
        cases()
    );
}
