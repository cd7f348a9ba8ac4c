//! What a dialect publishes.

use std::time::Duration;

use serde_json::json;

use super::with_body;
use crate::dialect::{
    Announcement, Dialect, MqttProtocol, Publication, PublicationBody, PushOn, Qos, sample,
};

/// Gives the text of a dialect with these tables.
fn with(tables: &str) -> String {
    format!("{}\n{tables}", with_body("1"))
}

fn dialect(tables: &str) -> Dialect {
    Dialect::parse("my.toml", &with(tables)).unwrap()
}

/// Gives the message for tables that are wrong.
fn slip(tables: &str) -> String {
    match Dialect::parse("my.toml", &with(tables)) {
        Ok(_) => "no slip found".to_owned(),
        Err(error) => error.to_string(),
    }
}

const PRINTING: usize = 4;

fn published(tables: &str) -> Vec<Publication> {
    let truth = &sample::samples()[PRINTING].truth;
    dialect(tables).mqtt().unwrap().publications(truth).unwrap()
}

#[test]
fn what_is_not_said_has_a_default() {
    let dialect = dialect("[mqtt]\n[[mqtt.topics]]\ntopic = \"a\"\ntext = \"x\"\n");
    let plan = dialect.mqtt().unwrap();
    assert_eq!(plan.protocol(), MqttProtocol::V3_1_1);
    assert_eq!(plan.client_id(), None);
    assert_eq!(plan.keep_alive(), Duration::from_secs(30));
    assert_eq!(plan.period(), Duration::from_secs(1));
    assert_eq!(plan.on(), PushOn::Change);
    let truth = &sample::samples()[PRINTING].truth;
    assert_eq!(plan.will(truth), Ok(None));
    assert_eq!(plan.birth(truth), Ok(None));
    assert_eq!(
        plan.publications(truth),
        Ok(vec![Publication {
            topic: "a".to_owned(),
            body: PublicationBody::Text("x".to_owned()),
            retain: false,
            qos: Qos::AtMostOnce,
        }])
    );
}

#[test]
fn a_dialect_without_the_table_publishes_nothing() {
    let plain = Dialect::builtin("plain").unwrap();
    assert!(plain.mqtt().is_none() && plain.announce().is_none());
}

#[test]
fn each_item_has_a_message_of_its_own_with_type_part_and_words() {
    let all = published(
        r#"
[parts]
heater = '{ "now": "{{ heater.actual_celsius | round(1) }}" }'

[mqtt]
protocol = "5"
qos = 1

[[mqtt.topics]]
topic = "p/{{ name }}"
each = "heaters | items"
as = ["name", "heater"]
body = '''"{% include 'heater' %}"'''

[[mqtt.topics]]
topic = "{{ 'p' }}/state"
text = "{{ words.state[printer.state] }} {{ job.id if job else 0 }}"
retain = true
qos = 2

[[mqtt.topics]]
topic = "none/{{ reason }}"
each = "printer.reasons"
as = ["reason"]
text = "x"
"#,
    );
    let told: Vec<_> = all
        .iter()
        .map(|one| (one.topic.as_str(), one.body.clone(), one.retain, one.qos))
        .collect();
    let now = |celsius: f64| PublicationBody::Json(json!({ "now": celsius }));
    let state = PublicationBody::Text("Busy 7".to_owned());
    assert_eq!(
        told,
        [
            ("p/extruder", now(210.0), false, Qos::AtLeastOnce),
            ("p/platform", now(60.0), false, Qos::AtLeastOnce),
            ("p/chamber", now(31.5), false, Qos::AtLeastOnce),
            ("p/state", state, true, Qos::ExactlyOnce),
        ]
    );
}

#[test]
fn a_will_and_a_birth_are_kept_unless_the_file_says_otherwise() {
    let dialect = dialect(
        "[mqtt]\nwill = { topic = \"on\", text = \"no\" }\n\
         birth = { topic = \"on\", body = '{ \"on\": true }', retain = false }\n",
    );
    let plan = dialect.mqtt().unwrap();
    let truth = &sample::samples()[0].truth;
    assert!(plan.will(truth).unwrap().unwrap().retain);
    let birth = plan.birth(truth).unwrap().unwrap();
    assert!(!birth.retain);
    assert_eq!(birth.body.to_bytes(), r#"{"on":true}"#);
}

#[test]
fn every_slip_of_publishing_is_told_with_file_line_field_and_what_is_allowed() {
    let mqtt = [
        "",
        "protocol = \"4\"",
        "protocol = 5",
        "client-id = \"\"",
        "keep-alive-s = 1",
        "period-ms = 1",
        "qos = 3",
        "qos = -1",
        "on = \"chance\"",
        "wil = 1",
        "will = { topic = \"a/+\", text = \"x\" }",
        "will = { topic = \"a\" }",
        "will = { topic = \"a\", text = \"x\", body = \"1\" }",
        "will = { topic = \"a\", text = \"x\", each = \"y\" }",
        "will = { topic = \"a\", text = \"{{ 'x' * 70000 }}\" }",
        "birth = { topic = \"a\", text = \"{{ printer.stat }}\" }",
    ]
    .map(|line| {
        let topics = if line.is_empty() {
            ""
        } else {
            "[[mqtt.topics]]\ntopic = \"a\"\ntext = \"x\""
        };
        slip(&format!("[mqtt]\n{line}\n{topics}"))
    });
    let topics = [
        "topic = \"\"\ntext = \"x\"",
        "topic = \"a/#\"\ntext = \"x\"",
        "topic = \"$a\"\ntext = \"x\"",
        "topic = \"a\\u0000\"\ntext = \"x\"",
        "topic = \"a/{{ '+' }}\"\ntext = \"x\"",
        "topic = \"{{ phase }}/{{ job.name }}\"\ntext = \"x\"",
        "topic = \"a\"\ntext = \"x\"\n[[mqtt.topics]]\ntopic = \"{{ 'a' }}\"\ntext = \"y\"",
        "topic = \"a\"\ntext = \"x\"\neach = \"heaters\"",
        "topic = \"a\"\ntext = \"x\"\nas = [\"heater\"]",
        "topic = \"a\"\ntext = \"x\"\neach = \"heaters\"\nas = [\"a b\"]",
        "topic = \"a\"\ntext = \"x\"\neach = \"heaters\"\nas = []",
        "topic = \"a\"\ntext = \"x\"\neach = \"heaters\"\nas = [\"one\"]",
        "topic = \"a/{{ n }}\"\ntext = \"x\"\neach = \"range(2000)\"\nas = [\"n\"]",
        "topic = \"a/{{ n }}\"\ntext = \"x\"\neach = \"phase\"\nas = [\"n\"]",
        "topic = \"a\"\nbody = '{ \"a\": }'",
        "topic = \"a\"\nbody = '''\n{\n \"a\": \"{{ job.idd }}\" }'''",
        "topic = \"a\"\ntext = \"{% if job %}\"",
        "topic = \"a\"",
        "text = \"a\"",
    ]
    .map(|topic| slip(&format!("[mqtt]\n[[mqtt.topics]]\n{topic}\n")));
    let announce = [
        "",
        "service = \"coldbed\"",
        "service = \"_coldbed._udp\"",
        "service = \"_a-name-that-is-too-long._tcp\"",
        "service = \"_c._tcp\"\ninstance = \"\"",
        "service = \"_c._tcp\"\ntxt = { \"a=b\" = \"c\" }",
        "service = \"_c._tcp\"\ntxt = { \"\" = \"c\" }",
        "service = \"_c._tcp\"\ntxt = { a = \"b\", A = \"c\" }",
        "service = \"_c._tcp\"\ntxt = { a = 1 }",
        "service = \"_c._tcp\"\nport = 1",
    ]
    .map(|lines| slip(&format!("[announce]\n{lines}\n")));
    insta::assert_snapshot!([mqtt.join("\n"), topics.join("\n"), announce.join("\n")].join("\n\n"));
}

#[test]
fn pairs_of_an_announcement_may_be_as_long_as_a_record_holds() {
    let txt = |value: usize, keys: usize| {
        let pairs: Vec<_> = (0..keys)
            .map(|key| format!("k{key} = \"{}\"", "x".repeat(value)))
            .collect();
        slip(&format!(
            "[announce]\nservice = \"_c._tcp\"\ntxt = {{ {} }}\n",
            pairs.join(", ")
        ))
    };
    // `k0=` and the value; RFC 6763 section 6.1 and 6.2.
    assert_eq!(txt(252, 1), "no slip found");
    assert!(txt(253, 1).contains("at most 255 bytes"));
    assert_eq!(txt(252, 5), "no slip found");
    assert!(txt(252, 6).contains("at most 1300 bytes"));
}

#[test]
fn a_dialect_may_name_its_instance_or_leave_it_to_the_printer() {
    let tables = "[announce]\nservice = \"_bench._tcp\"\ntxt = { path = \"/printer\" }\n";
    let txt = vec![("path".to_owned(), "/printer".to_owned())];
    let announced = |instance: &str| Announcement {
        service: "_bench._tcp".to_owned(),
        instance: instance.to_owned(),
        txt: txt.clone(),
    };
    let unnamed = dialect(tables);
    let plan = unnamed.announce().unwrap();
    assert_eq!(plan.announcement("printing"), announced("printing"));
    let named = dialect(&tables.replace("txt", "instance = \"A. B\"\ntxt"));
    let plan = named.announce().unwrap();
    assert_eq!(plan.announcement("printing"), announced("A. B"));
}
