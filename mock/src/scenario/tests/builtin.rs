use super::super::{BUILTIN, PRINTERS, Scenario};

#[test]
fn every_built_in_scenario_is_sound() {
    for (name, _) in BUILTIN {
        let scenario = Scenario::builtin(name).unwrap().unwrap();
        assert!(!scenario.title.ends_with('.'), "{name}");
        // A title is a line of a list; two lines of a terminal are the most that can be read there.
        assert!(
            scenario.title.len() <= 130,
            "{name}: {}",
            scenario.title.len()
        );
    }
}

#[test]
fn whatever_happens_in_a_built_in_scenario_happens_within_its_length() {
    for (name, _) in BUILTIN {
        let scenario = Scenario::builtin(name).unwrap().unwrap();
        for event in &scenario.events {
            if let super::super::When::At(at) = event.when {
                assert!(at < scenario.length, "{name}");
            }
        }
    }
}

#[test]
fn every_built_in_printer_needs_only_a_title_and_a_length() {
    for (name, _) in PRINTERS {
        let text = format!("include = \"{name}\"\ntitle = \"Bare\"\nlength = \"1m\"\n");
        assert!(Scenario::parse("bare.toml", &text).is_ok(), "{name}");
    }
}

#[test]
fn no_two_built_ins_share_a_name() {
    let mut names: Vec<&str> = super::super::builtin::names().collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all);
}
