use minijinja::Value;
use proptest::prelude::*;

use super::super::expression::Expression;
use super::super::place::Site;
use super::super::scope::Scope;
use super::{moment, number, span, text, unit};

const PAGE: &str = include_str!("../../../../docs/dialect-filters.md");
const MODULE: &str = include_str!("mod.rs");

fn evaluate(source: &str, x: impl Into<Value>) -> Result<Value, String> {
    let site = Site {
        field: "body".into(),
        line: 1,
        pointer: String::new(),
    };
    let scope = Scope::new(minijinja::context! {
        x => x.into(),
        nothing => (),
        not_a_number => f64::NAN,
    });
    Expression::compile(source, site)?
        .evaluate(&scope)
        .map_err(|no_value| no_value.message)
}

/// Gives the value as a body would have it.
fn json(source: &str) -> String {
    let value = evaluate(source, ()).unwrap_or_else(|message| panic!("{source}: {message}"));
    serde_json::to_string(&value).unwrap()
}

fn refusal(source: &str) -> String {
    match evaluate(source, ()) {
        Ok(value) => panic!("{source} gave {value}"),
        Err(message) => message,
    }
}

#[track_caller]
fn holds(table: &[(&str, &str)]) {
    for (source, written) in table {
        assert_eq!(json(source), *written, "{source}");
    }
}

/// Is a row of the page: filter, what the example is and what it gives.
struct Row {
    name: &'static str,
    subject: String,
    call: String,
    result: String,
}

fn rows() -> Vec<Row> {
    let is_row = |line: &&'static str| line.starts_with("| `");
    PAGE.lines().filter(is_row).map(row).collect()
}

fn row(line: &'static str) -> Row {
    let line_without_pipes = line.replace("\\|", "\u{1}");
    let cells: Vec<&str> = line_without_pipes.split(" | ").map(str::trim).collect();
    let [_, _, example, result] = cells.as_slice() else {
        panic!("{line}")
    };
    let code = |cell: &str| cell.trim_matches(['|', ' ']).trim_matches('`').to_owned();
    let (subject, call) = example.split_once('\u{1}').unwrap();
    let name = line["| `".len()..].split(['`', '(']).next().unwrap();
    Row {
        name,
        subject: code(subject),
        call: code(call),
        result: code(result),
    }
}

fn names() -> Vec<&'static str> {
    [
        number::NAMES,
        unit::NAMES,
        span::NAMES,
        moment::NAMES,
        text::NAMES,
    ]
    .concat()
}

#[test]
fn the_page_has_a_row_for_every_filter_and_no_other() {
    let rows: Vec<&str> = rows().iter().map(|row| row.name).collect();
    assert_eq!(rows, names());
}

#[test]
fn the_page_and_the_documents_of_the_code_have_the_same_rows() {
    let page: Vec<&str> = PAGE.lines().filter(|line| line.starts_with('|')).collect();
    let code: Vec<&str> = MODULE
        .lines()
        .filter_map(|line| line.strip_prefix("//! "))
        .filter(|line| line.starts_with('|'))
        .collect();
    assert_eq!(page, code);
}

#[test]
fn every_example_of_the_page_comes_out_as_it_says() {
    for Row {
        subject,
        call,
        result,
        name,
    } in rows()
    {
        assert!(call.starts_with(name), "{call}");
        assert_eq!(json(&format!("{subject} | {call}")), result, "{call}");
    }
}

#[test]
fn every_filter_gives_null_for_null() {
    for Row { call, .. } in rows() {
        assert_eq!(json(&format!("nothing | {call}")), "null", "{call}");
    }
}

#[test]
fn every_filter_of_numbers_gives_null_for_what_json_cannot_write() {
    for Row { call, name, .. } in rows() {
        if !["ascii", "shorten", "senml_name"].contains(&name) {
            for subject in ["not_a_number", "(1e308 * 10)"] {
                assert_eq!(json(&format!("{subject} | {call}")), "null", "{call}");
            }
        }
    }
}

#[test]
fn every_filter_refuses_a_wrong_type_by_its_own_name() {
    for Row { call, name, .. } in rows() {
        for subject in ["range", "{}.a"] {
            let message = refusal(&format!("{subject} | {call}"));
            let told =
                message.contains(&format!("`{name}` takes")) || message.contains("undefined");
            assert!(told, "{message}");
        }
    }
    assert_eq!(
        refusal("'a' | hms"),
        "`'a' | hms`: invalid operation: `hms` takes a number or null, not string"
    );
    assert_eq!(
        refusal("true | kelvin"),
        "`true | kelvin`: invalid operation: `kelvin` takes a number or null, not bool"
    );
    assert!(refusal("1 | ascii").contains("`ascii` takes text or null, not 1"));
}

#[test]
fn a_wrong_argument_is_refused_even_while_the_value_is_null() {
    for (call, told) in [
        (
            "scale('2')",
            "`scale` takes a number as `factor`, not string",
        ),
        ("scale()", "missing argument"),
        ("scale(1, 2, 3)", "too many arguments"),
        ("plus('2')", "`plus` takes a number or null, not string"),
        (
            "clamp(3, 2)",
            "`clamp` takes a `low` that is not above `high`",
        ),
        (
            "clamp(0, not_a_number)",
            "`clamp` takes a number as `high`, not NaN",
        ),
        (
            "fixed(1.0)",
            "`fixed` takes an integer from 0 to 15 as `places`, not 1.0",
        ),
        ("fixed(16)", "as `places`, not 16"),
        (
            "digits(0)",
            "`digits` takes an integer from 1 to 30 as `width`, not 0",
        ),
        ("shorten(-1)", "as `n`, not -1"),
        (
            "rfc3339('1h')",
            "`rfc3339` takes an `offset` like '+01:00' or 'Z', not '1h'",
        ),
        ("rfc3339('+24:00')", "not '+24:00'"),
        ("rfc3339('+01:60')", "not '+01:60'"),
        ("rfc3339('+0a:00')", "not '+0a:00'"),
        ("rfc3339(60)", "like '+01:00' or 'Z', not 60"),
        (
            "rfc3339(places=10)",
            "`rfc3339` takes an integer from 0 to 9 as `places`",
        ),
        ("rfc3339(place=1)", "place"),
        ("internet_date('CET')", "`internet_date` takes an `offset`"),
        (
            "format_time(1)",
            "`format_time` takes text as `format`, not 1",
        ),
        ("format_time('%!')", "`format_time` cannot write '%!'"),
        ("format_time('%')", "`format_time` cannot write '%'"),
    ] {
        let message = refusal(&format!("nothing | {call}"));
        assert!(message.contains(told), "{message}");
    }
}

#[test]
fn numbers_keep_one_json_form() {
    holds(&[
        ("3 | round(1)", "3.0"),
        ("21.25 | round", "21.0"),
        ("2.5 | whole", "3"),
        ("(-2.5) | whole", "-3"),
        ("(-0.2) | ceil", "0"),
        ("12.0 | floor", "12"),
        ("12 | scale(10)", "120"),
        ("12 | scale(0.5)", "6.0"),
        ("12 | scale(2, 1)", "25"),
        ("12.0 | scale(2)", "24.0"),
        // Left out and null are the same to the template language.
        ("12 | scale(2, nothing)", "24"),
        ("9223372036854775807 | plus(1)", "9.223372036854776e+18"),
        ("1 | plus(nothing)", "null"),
        ("nothing | minus(1)", "null"),
        ("1 | plus(not_a_number)", "null"),
        ("1e308 | scale(10)", "null"),
        ("1e308 | plus(1e308)", "null"),
        ("5 | clamp(0, 100)", "5"),
        ("(-5) | clamp(0, 100)", "0"),
        ("5 | clamp(0, 4.5)", "4.5"),
        ("(-0.04) | fixed(1)", "\"0.0\""),
        ("21.25 | fixed(1)", "\"21.3\""),
        ("209.96 | fixed(0)", "\"210\""),
        ("1e20 | fixed(2)", "\"100000000000000000000.00\""),
        ("(-7) | digits(3)", "\"-007\""),
        ("1234 | digits(3)", "\"1234\""),
        ("6.7 | digits(1)", "\"7\""),
        ("(-0.2) | digits(2)", "\"00\""),
    ]);
}

#[test]
fn units_agree_with_published_points() {
    // Source: the boiling and the freezing point of water, and where the two scales meet (common
    // knowledge; SI Brochure section 2.3.1 for 273.15).
    holds(&[
        ("100 | fahrenheit", "212.0"),
        ("0 | fahrenheit", "32.0"),
        ("(-40) | fahrenheit", "-40.0"),
        ("0 | kelvin", "273.15"),
        ("(-273.15) | kelvin", "0.0"),
        ("100 | fraction", "1.0"),
        ("0 | fraction", "0.0"),
    ]);
}

#[test]
fn spans_are_written_as_clocks_and_standards_do() {
    holds(&[
        ("0 | hms", "\"00:00:00\""),
        ("59.9 | hms", "\"00:00:59\""),
        // A sum of control periods that means 60.
        ("59.99999999 | hms", "\"00:01:00\""),
        ("(-61) | hms", "\"-00:01:01\""),
        ("(-0.9) | hms", "\"00:00:00\""),
        ("3600000 | hms", "\"1000:00:00\""),
        ("(-59) | hm", "\"00:00\""),
        ("(-60) | hm", "\"-00:01\""),
        ("1e300 | hms", "null"),
        ("0 | duration", "\"PT0S\""),
        ("30 | duration", "\"PT30S\""),
        ("120 | duration", "\"PT2M\""),
        ("7200 | duration", "\"PT2H\""),
        // Source: RFC 3339 appendix A: `dur-hour = 1*DIGIT "H" [dur-minute]`, so no PT1H3S.
        ("3603 | duration", "\"PT1H0M3S\""),
        ("129600 | duration", "\"PT36H\""),
        ("(-90) | duration", "\"-PT1M30S\""),
        ("840.4 | milliseconds", "840400"),
        ("(-0.0004) | milliseconds", "0"),
    ]);
}

#[test]
fn moments_are_written_as_in_the_examples_of_the_standards() {
    // The seconds are by Python's `datetime.fromisoformat(…).timestamp()`.
    holds(&[
        // Source: RFC 3339 section 5.8, all but the leap second.
        (
            "482196050.52 | rfc3339(places=2)",
            "\"1985-04-12T23:20:50.52Z\"",
        ),
        (
            "851042397 | rfc3339('-08:00')",
            "\"1996-12-19T16:39:57-08:00\"",
        ),
        ("851042397 | rfc3339", "\"1996-12-20T00:39:57Z\""),
        (
            "(-1041337172.13) | rfc3339('+00:20', 2)",
            "\"1937-01-01T12:00:27.87+00:20\"",
        ),
        (
            "662687999 | rfc3339(offset='-08:00')",
            "\"1990-12-31T15:59:59-08:00\"",
        ),
        // Source: RFC 9110 section 5.6.7.
        ("784111777 | http_date", "\"Sun, 06 Nov 1994 08:49:37 GMT\""),
        // Source: RFC 5322 appendix A.1.1.
        (
            "880127706 | internet_date('-06:00')",
            "\"Fri, 21 Nov 1997 09:55:06 -0600\"",
        ),
    ]);
}

#[test]
fn moments_cut_off_what_they_do_not_show() {
    holds(&[
        ("1767600601.99 | rfc3339", "\"2026-01-05T08:10:01Z\""),
        // As a double it is 0.2999999523.
        (
            "1767600601.3 | rfc3339(places=1)",
            "\"2026-01-05T08:10:01.3Z\"",
        ),
        (
            "1767600601.25 | rfc3339('Z', 9)",
            "\"2026-01-05T08:10:01.250000000Z\"",
        ),
        (
            "1767600601.99 | http_date",
            "\"Mon, 05 Jan 2026 08:10:01 GMT\"",
        ),
        ("0 | internet_date", "\"Thu, 01 Jan 1970 00:00:00 +0000\""),
        ("(-0.5) | unix", "-1"),
        ("(-0.5) | unix_ms", "-500"),
        ("(-0.5) | rfc3339", "\"1969-12-31T23:59:59Z\""),
        ("(-0.5) | http_date", "null"),
        (
            "253402300799 | http_date",
            "\"Fri, 31 Dec 9999 23:59:59 GMT\"",
        ),
        ("253402300800 | http_date", "null"),
        ("253402300800 | rfc3339", "null"),
        ("1e18 | internet_date", "null"),
        ("0 | format_time('%Y%m%d')", "\"19700101\""),
        (
            "0 | format_time('%I:%M %p', offset='+13:45')",
            "\"01:45 PM\"",
        ),
        ("0 | format_time('%H%%')", "\"00%\""),
    ]);
}

#[test]
fn text_is_what_json_would_write_and_ascii_if_asked() {
    holds(&[
        ("7 | text", "\"7\""),
        ("true | text", "\"true\""),
        ("0.1 | text", "\"0.1\""),
        ("'a' | text", "\"a\""),
        ("[1, none] | text", "\"[1,null]\""),
        ("'Größe 3' | ascii", "\"Gr??e 3\""),
        ("'日本' | shorten(1)", "\"日\""),
        ("'ab' | shorten(5)", "\"ab\""),
        ("'ab' | shorten(0)", "\"\""),
    ]);
}

fn any_argument() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<f64>()
            .prop_filter("a literal", |number| number.is_finite())
            .prop_map(|number| format!("({number:?})")),
        any::<i64>().prop_map(|number| format!("({number})")),
        (0..40_u32).prop_map(|number| number.to_string()),
        prop::sample::select(vec![
            "nothing",
            "true",
            "'+01:00'",
            "'Z'",
            "'%'",
            "'%9f'",
            "'%255Y'",
            "'%Q'",
            "x",
            "[]",
            "offset='-23:59'",
            "places=9",
        ])
        .prop_map(str::to_owned),
    ]
}

fn parsed_hms(text: &str) -> i64 {
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text),
    };
    let parts: Vec<i64> = text.split(':').map(|part| part.parse().unwrap()).collect();
    assert!(parts[1] < 60 && parts[2] < 60, "{text}");
    sign * (parts[0] * 3600 + parts[1] * 60 + parts[2])
}

proptest! {
    #[test]
    fn no_call_of_a_filter_panics(
        name in prop::sample::select(names()),
        x in prop_oneof![
            any::<f64>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<u64>().prop_map(Value::from),
            any::<i128>().prop_map(Value::from),
            any::<String>().prop_map(Value::from),
            Just(Value::from(())),
        ],
        arguments in prop::collection::vec(any_argument(), 0..3),
    ) {
        let _ = evaluate(&format!("x | {name}({})", arguments.join(", ")), x);
    }

    #[test]
    fn a_span_reads_back_as_the_same_whole_seconds(seconds in -10_000_000_i64..10_000_000) {
        let text = evaluate("x | hms", seconds).unwrap();
        prop_assert_eq!(parsed_hms(text.as_str().unwrap()), seconds);
        let text = evaluate("x | duration", seconds).unwrap();
        let span: jiff::SignedDuration = text.as_str().unwrap().parse().unwrap();
        prop_assert_eq!(span.as_secs(), seconds);
    }

    #[test]
    fn a_moment_reads_back_as_the_same_second(
        seconds in -60_000_000_000_i64..250_000_000_000,
        places in 0..10_u32,
        hours in -23..24_i32,
    ) {
        let source = format!("x | rfc3339('{hours:+03}:30', {places})");
        let text = evaluate(&source, seconds).unwrap();
        let read: jiff::Timestamp = text.as_str().unwrap().parse().unwrap();
        prop_assert_eq!(read.as_second(), seconds);
    }

    #[test]
    fn an_http_date_reads_back_as_the_same_second(seconds in 0..253_402_300_800_u64) {
        let text = evaluate("x | http_date", seconds).unwrap();
        let read = httpdate::parse_http_date(text.as_str().unwrap()).unwrap();
        let since = read.duration_since(std::time::SystemTime::UNIX_EPOCH).unwrap();
        prop_assert_eq!(since.as_secs(), seconds);
    }

    #[test]
    fn fahrenheit_turned_back_is_the_same_temperature(celsius in -273.15..2000.0_f64) {
        let fahrenheit = f64::try_from(evaluate("x | fahrenheit", celsius).unwrap()).unwrap();
        // Source: NIST SP 811 (2008), appendix B.8.
        prop_assert!(((fahrenheit - 32.0) / 1.8 - celsius).abs() < 1e-9);
    }
}
