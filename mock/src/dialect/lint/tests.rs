//! Each warning, with a dialect that gives it and one that does not.

use crate::dialect::DialectFile;
use crate::scenario::NoFiles;

/// Shows all that a watcher needs, with a word table, a part and a push.
const CLEAN: &str = r#"
[auth]
scheme = "none"

[problem]
body = '"{{ title }}"'

[words.state]
idle = "ready"
processing = "busy"
stopped = "halted"

[parts]
heater = '"{{ heater.actual_celsius | round(1) }}"'
printer = '''{
  "state": "{{ words.state[printer.state] }}",
  "heaters": [{"{% for name, heater in heaters | items %}": "{% include 'heater' %}"}]
}'''

[[routes]]
method = "GET"
path = "/"
body = '''"{% include 'printer' %}"'''

[[routes]]
method = "GET"
path = "/events"
push = { form = "server-sent-events", period-ms = 500 }
body = '''"{% include 'printer' %}"'''
"#;

fn lint(text: &str) -> Vec<String> {
    let warnings = DialectFile::lint("my.toml", text, &NoFiles).unwrap();
    warnings.iter().map(ToString::to_string).collect()
}

/// Gives the warnings for the clean text with one thing changed.
fn changed(from: &str, to: &str) -> Vec<String> {
    assert!(CLEAN.contains(from), "nothing to change: {from}");
    lint(&CLEAN.replacen(from, to, 1))
}

#[test]
fn nothing_is_said_about_a_clean_dialect_nor_about_the_built_in_ones() {
    assert_eq!(lint(CLEAN), [""; 0]);
    for name in DialectFile::builtin_names() {
        let text = DialectFile::builtin_text(name).unwrap();
        assert_eq!(lint(text), [""; 0], "{name}");
    }
}

#[test]
fn an_error_is_the_one_of_the_check() {
    let broken = CLEAN.replace("printer.state]", "printer.stat]");
    let told = DialectFile::lint("my.toml", &broken, &NoFiles).unwrap_err();
    let checked = DialectFile::load("my.toml", &broken, &NoFiles).unwrap_err();
    assert_eq!(told.error, checked);
    assert_eq!(told.warnings, []);
}

/// Gives a text with a table for a list of reasons.
fn with_reasons(words: &str, expression: &str) -> String {
    let table = format!("[words.why]\n{words}\n\n[parts]\n");
    let reason = format!(
        "{{\n  \"why\": [{{\"{{% for r in printer.reasons %}}\": \"{{{{ {expression} }}}}\"}}],"
    );
    let text = CLEAN.replace("[parts]\n", &table);
    text.replace("printer = '''{", &format!("printer = '''{reason}"))
}

const SOME_REASONS: &str = "paused = \"p\"\nextruder-heating-report = \"e\"\n\
    platform-heating-report = \"b\"\nextruder-temperature-high = \"h\"";

#[test]
fn a_word_that_a_table_lacks_is_missed() {
    // The check refuses it at the first reason that has no word; all are told together.
    let text = with_reasons(SOME_REASONS, "words.why[r]");
    let refused = DialectFile::lint("my.toml", &text, &NoFiles).unwrap_err();
    assert!(refused.error.to_string().contains("`words.why[r]`"));
    let said: Vec<String> = refused.warnings.iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(
        said[0].starts_with(
            "13: words.why: of the `printer-state-reasons` keywords, `material-empty`, \
             `extruder-jam`, "
        ),
        "{}",
        said[0]
    );
    assert!(!said[0].contains("`paused`"), "{}", said[0]);
}

#[test]
fn a_word_is_not_missed_where_something_stands_in_for_it() {
    assert_eq!(
        lint(&with_reasons(SOME_REASONS, "words.why[r] | default('?')")),
        [""; 0]
    );
}

#[test]
fn a_misspelt_word_is_told_with_the_one_meant() {
    let words = format!("{SOME_REASONS}\nmaterial-emty = \"m\"\nnone = \"-\"");
    assert_eq!(
        lint(&with_reasons(&words, "words.why[r] | default('?')")),
        [
            "18: words.why.material-emty: is none of the `printer-state-reasons` keywords (did you \
             mean `material-empty`?)"
        ]
    );
}

#[test]
fn a_word_that_an_expression_names_itself_may_be_any() {
    let own = format!("{SOME_REASONS}\nanything = \"?\"");
    assert_eq!(
        lint(&with_reasons(
            &own,
            "words.why[r] | default(words.why.anything)"
        )),
        [""; 0]
    );
    assert_eq!(
        lint(&with_reasons(&own, "words.why[r] | default('?')")),
        ["18: words.why.anything: is none of the `printer-state-reasons` keywords"]
    );
}

#[test]
fn a_table_of_other_words_may_have_any() {
    let text = CLEAN.replace("[parts]\n", "[words.yes]\ntrue = 1\nfalse = 0\n\n[parts]\n");
    let text = text.replace(
        "\"state\":",
        "\"on\": \"{{ words.yes['true' if job else 'false'] }}\", \"state\":",
    );
    assert_eq!(lint(&text), [""; 0]);
}

#[test]
fn each_set_is_known_by_its_words() {
    use super::sets::Set;
    for (keys, name) in [
        (
            &["idle", "processing", "stopped"][..],
            "`printer-state` keywords",
        ),
        (&["idle", "heating", "printng"], "phases"),
        (
            &["processing", "canceled", "aborted"],
            "`job-state` keywords",
        ),
        (&["none", "job-printing"], "`job-state-reasons` keywords"),
        (&["none", "door-open"], "`printer-state-reasons` keywords"),
    ] {
        assert_eq!(Set::of(keys).map(|set| set.name), Some(name), "{keys:?}");
    }
    assert!(Set::of(&["idle", "busy"]).is_none());
    assert!(Set::of(&[]).is_none());
}

#[test]
fn a_table_that_no_expression_uses_is_told_unless_one_may_use_any() {
    let spare = |to: &str| CLEAN.replace("[parts]\n", &format!("[words.spare]\na = 1\n\n{to}"));
    assert_eq!(
        lint(&spare("[parts]\n")),
        ["13: words.spare: no expression uses this table"]
    );
    let any = spare("[parts]\nany = '\"{{ words[phase] | default(1) }}\"'\n");
    let any = any.replace("\"state\":", "\"any\": \"{% include 'any' %}\", \"state\":");
    assert_eq!(lint(&any), [""; 0]);
}

#[test]
fn a_table_that_only_a_text_or_a_condition_uses_is_used() {
    let spare = CLEAN.replace("[parts]\n", "[words.spare]\na = 1\n\n[parts]\n");
    let text = "\n[[routes]]\nmethod = \"GET\"\npath = \"/t\"\ntext = \"a {{ words.spare.a }}\"\n";
    assert_eq!(lint(&format!("{spare}{text}")), [""; 0]);
    let condition = "\n[[routes]]\nmethod = \"GET\"\npath = \"/t\"\ntext = \"a\"\n\
                     exists = \"words.spare.a\"\n";
    assert_eq!(lint(&format!("{spare}{condition}")), [""; 0]);
}

#[test]
fn a_part_that_no_body_includes_is_told_be_it_through_another_such_part() {
    let spare = "[parts]\none = '1'\ntwo = '''[\"{% include 'one' %}\"]'''\n";
    assert_eq!(
        changed("[parts]\n", spare),
        [
            "14: parts.one: no body includes this part",
            "15: parts.two: no body includes this part"
        ]
    );
}

#[test]
fn a_host_that_shows_no_state_is_told_of() {
    assert_eq!(
        changed("{{ words.state[printer.state] }}", "{{ words.state.idle }}"),
        [
            "20: routes[0]: neither this nor any other route shows the phase, `printer.state` or \
             `job.state`: a watcher of this host cannot be judged by its state"
        ]
    );
    assert_eq!(
        changed(
            "{{ words.state[printer.state] }}",
            "{{ words.state.idle }} {{ phase }}"
        ),
        [""; 0]
    );
}

#[test]
fn a_host_that_shows_no_temperature_is_told_of() {
    let said = changed("heater.actual_celsius", "heater.target_celsius");
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(said[0].contains("shows a temperature"), "{said:?}");
}

#[test]
fn a_push_of_what_nothing_else_shows_is_told_of() {
    let path = "path = \"/\"\nbody = '''\"{% include 'printer' %}\"'''";
    let other = "path = \"/\"\nbody = '''[\"{% include 'printer' %}\"]'''";
    assert_eq!(
        changed(path, other),
        [
            "25: routes[1]: no GET route without `push` shows the same: a client that lost the \
             stream has nothing to ask"
        ]
    );
}

#[test]
fn a_version_is_told_of_what_it_changes_and_nothing_twice() {
    let version = |words: &str| {
        let version = format!("\n[[versions]]\nname = \"1.1\"\n[versions.words.state]\n{words}\n");
        lint(&format!("{CLEAN}{version}"))
    };
    assert_eq!(version("idle = \"waiting\""), [""; 0]);
    assert_eq!(
        version("stoped = \"halted\""),
        [
            "34: versions[0].words.state.stoped: is none of the `printer-state` keywords (did you \
             mean `stopped`?)"
        ]
    );
}
