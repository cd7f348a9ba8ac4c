//! The page for users: `docs/drifts.md` is fresh and says all of it.

use serde_json::Value;

use super::examples::{body, examples};
use super::schema::schema;
use super::*;

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/drifts.md");

/// What is between these two lines is made here; the rest of the page is written by hand.
const BEGIN: &str = "<!-- made by a test from here -->\n";
const END: &str = "<!-- to here -->\n";

/// How many characters of either side of an example are shown.
const SHOWN: usize = 56;

/// Is what the comment of a kind says.
struct Described {
    what: String,
    source: String,
    /// Name and description of each.
    parameters: Vec<(String, String)>,
}

fn described(kinds: &[Value], name: &str) -> Described {
    let properties = |kind: &&Value| kind["properties"].get(name).is_some();
    let table = kinds.iter().find(properties);
    let word = kinds.iter().find(|kind| kind["const"] == name);
    let kind = table.or(word).unwrap();
    let comment = kind["description"].as_str().unwrap();
    let (what, source) = comment.split_once("# Source").unwrap();
    let parameters = kind["properties"][name]["properties"].as_object();
    let parameters = parameters.into_iter().flatten().map(|(name, parameter)| {
        let says = parameter["description"].as_str().unwrap();
        (name.clone(), one_line(says))
    });
    Described {
        what: one_line(what),
        source: one_line(source).trim_end_matches('.').to_owned(),
        parameters: parameters.collect(),
    }
}

/// Makes a comment one line of a table, without its links into the code.
fn one_line(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut line = words.join(" ").replace('|', "\\|");
    while let (Some(open), Some(target)) = (line.find("[`"), line.find("](")) {
        let end = target + line[target..].find(')').unwrap();
        let name = line[open + 1..target].to_owned();
        line.replace_range(open..=end, &name);
    }
    line
}

fn code(text: &str) -> String {
    let ticks = if text.contains('`') { "``" } else { "`" };
    format!("{ticks}{}{ticks}", text.replace('|', "\\|"))
}

/// Writes a value as a file has it, in one line.
fn in_toml(value: &Value) -> String {
    match value {
        Value::Object(members) => {
            let members: Vec<String> = members
                .iter()
                .map(|(name, value)| format!("{name} = {}", in_toml(value)))
                .collect();
            format!("{{ {} }}", members.join(", "))
        }
        Value::Array(elements) => {
            let elements: Vec<String> = elements.iter().map(in_toml).collect();
            format!("[{}]", elements.join(", "))
        }
        other => other.to_string(),
    }
}

fn class(drift: &Drift) -> String {
    let class = serde_json::to_value(drift.class).unwrap();
    class.as_str().unwrap().to_owned()
}

fn kinds() -> String {
    let schema = schema();
    let kinds = schema["$defs"]["Change"]["oneOf"].as_array().unwrap();
    let mut table = String::new();
    for (title, stage) in [
        ("Shape: what the JSON says", Stage::Shape),
        ("Spelling: how it is written", Stage::Spelling),
        ("Form: how it is carried", Stage::Form),
    ] {
        table.push_str(&format!("### {title}\n\n"));
        table.push_str("| change | what it does | parameters | source |\n|---|---|---|---|\n");
        for name in Change::names() {
            let is_of_it =
                |drift: &&Drift| drift.change.name() == name && drift.change.stage() == stage;
            if !examples().iter().any(|drift| is_of_it(&drift)) {
                continue;
            }
            let Described {
                what,
                source,
                parameters,
            } = described(kinds, &name);
            let parameters: Vec<String> = parameters
                .iter()
                .map(|(name, says)| format!("`{name}`: {says}"))
                .collect();
            let parameters = parameters.join("<br>");
            table.push_str(&format!(
                "| `{name}` | {what} | {parameters} | {source} |\n"
            ));
        }
        table.push('\n');
    }
    table
}

fn all_examples() -> String {
    let mut table = format!(
        "## Examples\n\nEach is a drift of this body:\n\n```json\n{}\n```\n\n\
         | class | pointer | change | before | after |\n|---|---|---|---|---|\n",
        body()
    );
    for drift in examples() {
        let change = in_toml(&serde_json::to_value(&drift.change).unwrap());
        let effect = drift.effect(&body()).unwrap();
        let sides = [&effect.before, &effect.after];
        let texts = effect.excerpts(SHOWN);
        let [before, after] = [0, 1].map(|side| match sides[side] {
            Some(bytes) if !bytes.is_empty() => code(&texts[side]),
            _ => texts[side].clone(),
        });
        table.push_str(&format!(
            "| {} | {} | {} | {before} | {after} |\n",
            class(&drift),
            code(&format!("\"{}\"", drift.pointer)),
            code(&change),
        ));
    }
    table
}

#[test]
fn the_page_of_drifts_says_what_the_code_does() {
    let page = std::fs::read_to_string(PAGE).unwrap();
    let (before, rest) = page.split_once(BEGIN).unwrap();
    let (_, after) = rest.split_once(END).unwrap();
    let made = format!("\n## Kinds\n\n{}{}\n", kinds(), all_examples());
    let fresh = format!("{before}{BEGIN}{made}{END}{after}");
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(PAGE, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(PAGE).unwrap();
    assert!(
        kept == fresh,
        "docs/drifts.md is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed-mock the_page_of_drifts_says_what_the_code_does"
    );
}

#[test]
fn every_change_as_the_page_writes_it_is_read() {
    for drift in examples() {
        let change = in_toml(&serde_json::to_value(&drift.change).unwrap());
        let text = format!("pointer = '{}'\nchange = {change}", drift.pointer);
        let read: Drift = toml::from_str(&text).unwrap();
        assert_eq!(read.change, drift.change, "{text}");
    }
}

#[test]
fn the_files_shown_on_the_page_are_read() {
    let page = std::fs::read_to_string(PAGE).unwrap();
    let files: Vec<&str> = page
        .split("```toml\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next())
        .collect();
    assert!(files.len() > 1, "{files:?}");
    for file in files {
        toml::from_str::<Drift>(file).unwrap();
    }
}
