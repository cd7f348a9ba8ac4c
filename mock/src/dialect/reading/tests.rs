//! What was written by a dialect is read by it.

use serde_json::{Value, json};

use super::*;

fn read(dialect: &Dialect, path: &str, truth: &Truth) -> Reading {
    let reader = dialect.reader();
    let matched = dialect
        .requests_at(truth, |asked| asked == path)
        .into_iter()
        .next()
        .unwrap();
    reader
        .read(path, &dialect.body_of(&matched, truth).unwrap())
        .unwrap()
}

fn number(reading: &Reading, quantity: &Quantity) -> Told<f64> {
    let found = reading.numbers.iter().find(|(known, _)| known == quantity);
    found.map(|(_, told)| told.clone()).unwrap()
}

#[test]
fn every_truth_in_plain_is_read_as_it_was() {
    let plain = Dialect::builtin("plain").unwrap();
    for sample in sample::samples() {
        let truth = &sample.truth;
        let reading = read(&plain, "/printer", truth);
        let Some(Told::Value { value: phases, .. }) = &reading.phase else {
            panic!("{}: {:?}", sample.name, reading.phase);
        };
        assert!(phases.contains(&truth.phase), "{}: {phases:?}", sample.name);
        for quantity in quantities(truth) {
            let told = number(&reading, &quantity);
            match quantity.number_in(truth) {
                None => assert_eq!(told, Told::Unknown, "{} {quantity:?}", sample.name),
                Some(true_value) => {
                    let Told::Value { value, slack } = told else {
                        panic!("{} {quantity:?}: {told:?}", sample.name);
                    };
                    assert!(
                        (value - true_value).abs() <= slack,
                        "{quantity:?} {value} {true_value}"
                    );
                }
            }
        }
    }
}

#[test]
fn phases_that_plain_tells_apart_are_one_each() {
    let plain = Dialect::builtin("plain").unwrap();
    for sample in sample::samples() {
        let reading = read(&plain, "/printer", &sample.truth);
        let alone = Told::Value {
            value: vec![sample.truth.phase],
            slack: 0.0,
        };
        assert_eq!(reading.phase, Some(alone), "{}", sample.name);
    }
}

#[test]
fn null_is_unknown_and_a_word_in_a_numbers_place_unreadable() {
    let plain = Dialect::builtin("plain").unwrap();
    let reader = plain.reader();
    let printing = &sample::samples()[4].truth;
    let matched = &plain.requests_at(printing, |path| path == "/printer")[0];
    let mut body = plain.body_of(matched, printing).unwrap();
    body["job"]["progress-percent"] = Value::Null;
    body["heaters"]["extruder"]["actual-celsius"] = json!("hot");
    body["printer-state"] = json!("resting");
    let reading = reader.read("/printer", &body).unwrap();
    assert_eq!(number(&reading, &Quantity::Progress), Told::Unknown);
    let actual = Quantity::Actual("extruder".to_owned());
    assert_eq!(
        number(&reading, &actual),
        Told::Unreadable("\"hot\"".to_owned())
    );
    assert!(matches!(reading.phase, Some(Told::Unreadable(words)) if words.contains("resting")));
}

#[test]
fn other_scales_and_forms_are_read() {
    let text = r#"
auth = { scheme = "none" }
problem = { body = '1' }

[[routes]]
method = "GET"
path = "/"
body = '''
{
  "share": "{{ (job.progress_percent if job else 0) / 100 }}",
  "t": "{{ heaters.extruder.actual_celsius | round(1) }} °C",
  "f": "{{ heaters.platform.target_celsius * 1.8 + 32 }}",
  "left": "{{ (((job.remaining_seconds if job else 0) or 0) / 60) | round }}"
}
'''
"#;
    let dialect = Dialect::parse("mine", text).unwrap();
    let body = json!({ "share": 0.5, "t": "215.5 °C", "f": 140, "left": 30 });
    let reading = dialect.reader().read("/", &body).unwrap();
    let value = |quantity: &Quantity| match number(&reading, quantity) {
        Told::Value { value, .. } => (value * 1000.0).round() / 1000.0,
        other => panic!("{other:?}"),
    };
    assert_eq!(value(&Quantity::Progress).to_string(), "50");
    assert_eq!(
        value(&Quantity::Actual("extruder".to_owned())).to_string(),
        "215.5"
    );
    assert_eq!(
        value(&Quantity::Target("platform".to_owned())).to_string(),
        "60"
    );
    assert_eq!(value(&Quantity::Remaining).to_string(), "1800");
}
