use std::path::Path;

use serde_json::Value;

use super::WatcherFile;

const SCHEMA: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../schemas/watcher.schema.json"
);

const PAGE: &str = include_str!("../../../../docs/watcher-files.md");

/// Gives the watcher files that the page for users shows, whole ones only.
fn files_of_page() -> Vec<&'static str> {
    let blocks = PAGE.split("```toml\n").skip(1);
    let blocks = blocks.filter_map(|rest| rest.split("```").next());
    blocks.filter(|block| block.starts_with("# ")).collect()
}

/// Has every key of the language at least once.
const EVERY_KEY: &[&str] = &[
    r#"
command = ["python3", "watch.py", "{url}", "{key}", "{dialect}", "{interval}", "{authority}", "{callback}"]
environment = { TZ = "UTC", TO = "{callback}" }
directory = ".."
[sightings]
from = { callback = { listen = "192.0.2.7:8632", path = "/seen", key = "s3cret" } }
lines = "json"
missing = "stands"
unknown = ["--", -1, false]
[sightings.fields]
phase = "/state"
progress-percent = { at = "/part", unit = "ratio", unknown = ["?"] }
elapsed-seconds = { at = "/since", unit = "h:mm" }
remaining-seconds = "/left"
job-name = { at = "/file", unknown = [""] }
reason = "/why"
safe-to-touch = { at = "/cool", words = { true = ["yes"], false = ["no"] } }
[sightings.heaters.extruder]
actual-celsius = { at = "/now", unit = "kelvin" }
target-celsius = "/aim"
on = { at = "/lamp", words = { true = ["lit", 1], false = ["dark", 0] }, unknown = [2] }
[sightings.words]
idle = ["READY", 0]
heating = ["WARM"]
printing = ["PRINT"]
paused = ["WAIT"]
error = ["HALT"]
finished = ["DONE"]
cancelled = ["GONE"]
unknown = ["OFFLINE", "?"]
[commands]
pause = { line = "hold" }
resume = { run = ["python3", "tell.py", "{url}", "{key}", "go"] }
cancel = { line = "stop" }
"#,
    r#"
[sightings]
from = { serial = { device = "/dev/ttyUSB0", baud = 9600 } }
lines = { pattern = '^(?<state>\w+)$' }
fields = { phase = "state" }
"#,
    r#"
command = ["show"]
[sightings]
from = "stderr"
lines = { patterns = ['^(?<state>\w+)$', '^at (?<part>\S+)$'] }
fields = { phase = "state", progress-percent = "part" }
"#,
    "command = [\"show\"]\n[sightings]\nfrom = \"stdout\"\nlines = \"standard\"\n",
];

fn error(text: &str) -> String {
    match WatcherFile::parse("watcher.toml", text) {
        Ok(_) => format!("no error in\n{text}"),
        Err(error) => error.to_string(),
    }
}

/// Gives a sound file with one text in it replaced.
fn slip(sound: &str, replace: &str, by: &str) -> String {
    assert!(sound.contains(replace), "nothing to change: {replace}");
    format!("{by}\n    {}\n\n", error(&sound.replacen(replace, by, 1)))
}

#[test]
fn every_slip_is_told_with_line_column_field_and_what_is_allowed() {
    let json = EVERY_KEY[0];
    let serial = EVERY_KEY[1];
    let patterns = EVERY_KEY[2];
    let slips = [
        slip(json, "command =", "comand ="),
        slip(json, "command = [", "command = [ 7, "),
        slip(json, "[\"python3\", ", "[\"\", "),
        slip(json, "TZ =", "\"T=Z\" ="),
        slip(json, "lines = \"json\"", "lines = \"jsn\""),
        slip(json, "lines = \"json\"", "lines = \"standard\""),
        slip(json, "lines = \"json\"\n", "\n"),
        slip(json, "phase = \"/state\"", "phase = \"state\""),
        slip(json, "phase = \"/state\"", "phase = \"/sta~te\""),
        slip(json, "phase = \"/state\"\n", "\n"),
        slip(json, "unit = \"ratio\"", "unit = \"ration\""),
        slip(json, "unit = \"h:mm\"", "unit = \"celsius\""),
        slip(json, "remaining-seconds =", "remaining-minutes ="),
        slip(
            json,
            "remaining-seconds = \"/left\"",
            "remaining-seconds = 7",
        ),
        slip(json, "job-name = { at =", "job-name = { att ="),
        slip(json, "unknown = [\"--\"", "unknown = [[]"),
        slip(json, "target-celsius =", "target ="),
        slip(json, "false = [\"dark\"", "false = [\"lit\""),
        slip(
            json,
            "heating = [\"WARM\"]",
            "heating = [\"WARM\", \"PRINT\"]",
        ),
        slip(json, "heating = [\"WARM\"]", "heating = [\"0\"]"),
        slip(json, "heating = [\"WARM\"]", "heating = [\"--\"]"),
        slip(json, "heating =", "heeting ="),
        slip(json, "line = \"hold\"", "line = \"hold\\n\""),
        slip(json, "pause =", "pauze ="),
        slip(json, "run = [\"python3\", ", "run = [\"\", "),
        slip(json, "line = \"stop\"", "lines = \"stop\""),
        slip(
            serial,
            "[sightings]\n",
            "[commands]\npause = { line = \"p\" }\n[sightings]\n",
        ),
        slip(json, ", key = \"s3cret\"", ""),
        slip(json, "key = \"s3cret\"", "key = \"säcret\""),
        slip(json, "path = \"/seen\"", "path = \"seen\""),
        slip(json, "path = \"/seen\"", "path = \"/seen?now\""),
        slip(json, "listen = \"192.0.2.7:8632\"", "listen = \"here\""),
        slip(json, "callback = { listen", "callbak = { listen"),
        slip(json, "from = { callback", "# from = { callback"),
        slip(
            serial,
            "[sightings]\n",
            "environment = { A = \"b\" }\n[sightings]\n",
        ),
        slip(serial, "[sightings]\n", "directory = \"..\"\n[sightings]\n"),
        slip(serial, "baud = 9600", "baud = 9"),
        slip(serial, "device = \"/dev/ttyUSB0\"", "device = \"\""),
        slip(serial, "from = { serial", "# from = { serial"),
        slip(
            serial,
            "serial = { device = \"/dev/ttyUSB0\", baud = 9600 }",
            "callback = {}",
        ),
        slip(patterns, "phase = \"state\"", "phase = \"stat\""),
        slip(patterns, "phase = \"state\"", "phase = \"/state\""),
        slip(patterns, ", progress-percent = \"part\"", ""),
        slip(
            patterns,
            "'^at (?<part>\\S+)$'",
            "'^at (?<part>\\S+)$', '^booting'",
        ),
        slip(patterns, "'^at (?<part>", "'^at (?<part"),
        slip(patterns, "'^at (?<part>\\S+)$'", "'^at (?<part>\\S+$'"),
        slip(
            patterns,
            "command = [\"show\"]",
            "command = [\"show\", \"{callback}\"]",
        ),
        slip(patterns, "fields = {", "feelds = {"),
        slip(patterns, "command = [\"show\"]", "command = [\"show\""),
    ];
    insta::assert_snapshot!(slips.concat());
}

#[test]
fn a_file_that_is_not_there_is_told_with_its_name() {
    let error = WatcherFile::load(Path::new("no-such-folder/watcher.toml")).unwrap_err();
    let text = error.to_string();
    assert!(
        text.starts_with("no-such-folder/watcher.toml: cannot be read: "),
        "{text}"
    );
}

#[test]
fn the_column_is_counted_in_characters() {
    let error =
        WatcherFile::parse("w", "command = [\"é\"]\nenvironment = { \"é\" = 1 }").unwrap_err();
    assert_eq!(error.place, Some((2, 23)), "{error}");
}

#[test]
fn a_command_is_started_in_the_folder_of_its_file_or_beside_it() {
    let directory = |file: &str, more: &str| {
        let text = format!("command = [\"show\"]\n{more}");
        let file = WatcherFile::parse(file, &text).unwrap();
        file.command().unwrap().directory.clone()
    };
    assert_eq!(directory("watcher.toml", ""), None);
    assert_eq!(directory("desk/watcher.toml", ""), Some("desk".into()));
    let beside = directory("desk/watcher.toml", "directory = \"../bin\"");
    assert_eq!(beside, Some("desk/../bin".into()));
}

#[test]
fn a_command_is_shown_as_somebody_would_type_it() {
    let words = ["python3", "-c", "print('a b')", "{url}", ""].map(str::to_owned);
    let file = WatcherFile::of_command(words.to_vec());
    assert_eq!(file.name(), r"python3 -c 'print('\''a b'\'')' {url} ''");
}

#[test]
fn the_watchers_file_for_editors_is_what_the_reader_says() {
    let fresh = format!("{:#}\n", WatcherFile::schema());
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(SCHEMA, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(SCHEMA).unwrap_or_default();
    assert!(
        kept == fresh,
        "schemas/watcher.schema.json is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed \
         the_watchers_file_for_editors_is_what_the_reader_says"
    );
}

fn schema_errors(text: &str) -> Vec<String> {
    let schema = WatcherFile::schema();
    assert!(jsonschema::draft202012::meta::is_valid(&schema));
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let value: Value = toml::from_str(text).unwrap();
    let errors = validator.iter_errors(&value);
    errors
        .map(|error| format!("{}: {error}", error.instance_path))
        .collect()
}

#[test]
fn every_key_and_every_file_of_the_page_is_valid_for_reader_and_schema() {
    let page = files_of_page();
    assert_eq!(page.len(), 4, "the page's whole files begin with a comment");
    for text in EVERY_KEY.iter().chain(&page) {
        WatcherFile::parse("watcher.toml", text).unwrap_or_else(|error| panic!("{error}\n{text}"));
        assert_eq!(schema_errors(text), [""; 0], "{text}");
    }
}

#[test]
fn an_editor_is_told_of_misspelt_keys_and_wrong_words() {
    for (replace, by) in [
        ("command =", "comand ="),
        ("lines = \"json\"", "lines = \"jsn\""),
        ("missing = \"stands\"", "missing = \"stand\""),
        ("unit = \"ratio\"", "unit = \"ration\""),
        ("unit = \"h:mm\"", "unit = \"celsius\""),
        ("heating =", "heeting ="),
        ("callback = {", "calback = {"),
        ("words = { true", "words = { on"),
    ] {
        let changed = EVERY_KEY[0].replacen(replace, by, 1);
        assert!(changed != EVERY_KEY[0], "nothing to change: {replace}");
        assert!(!schema_errors(&changed).is_empty(), "{by}");
    }
}

/// Visits every key the schema knows, with what it says about it.
fn each_key(schema: &Value, visit: &mut impl FnMut(&str, &Value)) {
    match schema {
        Value::Object(object) => {
            if let Some(Value::Object(properties)) = object.get("properties") {
                for (key, property) in properties {
                    visit(key, property);
                }
            }
            object.values().for_each(|value| each_key(value, visit));
        }
        Value::Array(values) => values.iter().for_each(|value| each_key(value, visit)),
        _ => {}
    }
}

#[test]
fn every_key_has_a_description_for_editors_and_is_in_a_file_here_and_on_the_page() {
    let mut count = 0;
    let all = EVERY_KEY.concat();
    each_key(&WatcherFile::schema(), &mut |key, property| {
        count += 1;
        assert!(property["description"].is_string(), "{key}: {property}");
        assert!(all.contains(key), "no file has `{key}`");
        assert!(PAGE.contains(&format!("`{key}`")), "the page lacks `{key}`");
    });
    assert!(count > 40, "only {count} keys were found");
}
