//! Which drifts put something wrong where a reader expects something right, in the form it expects.

use coldbed_mock::drift::{Change, Drift};
use coldbed_mock::sim::{JobState, Phase, PrinterState};
use serde_json::Value;

use super::places::{About, Landing, Places};

/// Tells whether a drift makes a body say something about a quantity that no reader could know to
/// be wrong.
pub(super) fn misleads(drift: &Drift, about: &About, places: &Places) -> bool {
    let pointer = &drift.pointer;
    if *about == About::Phase && hides_the_phase(drift, places) {
        return true;
    }
    let landing = places.landing(pointer, about);
    match &drift.change {
        Change::Scale(_)
        | Change::HugeNumber(_)
        | Change::InvalidUtf8(_)
        | Change::LoneSurrogate(_) => landing == Landing::At,
        // Who goes by the order in a list takes the next one for this one.
        Change::PrependElement(_) | Change::Corpus(_) => landing != Landing::Beside,
        Change::ReplaceValue(change) => is_taken_for(&change.value, about, landing),
        Change::DuplicateMember(change) => {
            let member = change.member.replace('~', "~0").replace('/', "~1");
            let landing = places.landing(&format!("{pointer}/{member}"), about);
            is_taken_for(&change.value, about, landing)
        }
        Change::Garbage(change) => match serde_json::from_str::<Value>(&change.text) {
            Ok(value) => is_taken_for(&value, about, landing),
            // `021` and `.5` are no JSON numbers, and some readers take them for such.
            Err(_) => landing == Landing::At && has_digit(&change.text),
        },
        _ => false,
    }
}

/// Tells whether a body looks as if the printer did something else: a reason that nobody knows in the
/// place of one that tells phases apart, or no job.
fn hides_the_phase(drift: &Drift, places: &Places) -> bool {
    let pointer = &drift.pointer;
    if places.is_reason(pointer) {
        return true;
    }
    match &drift.change {
        Change::ReplaceByNull(_) => places.is_null_without_job(pointer),
        Change::ReplaceValue(change) => {
            change.value.is_null() && places.is_null_without_job(pointer)
        }
        Change::RemoveMember(_) | Change::RenameMember(_) | Change::MoveMember(_) => {
            places.is_missing_without_job(pointer)
        }
        _ => false,
    }
}

fn has_digit(text: &str) -> bool {
    text.contains(|c: char| c.is_ascii_digit())
}

/// Tells whether a reader may take a value in that place for the quantity's.
fn is_taken_for(value: &Value, about: &About, landing: Landing) -> bool {
    match (landing, value) {
        (Landing::Beside, _) => false,
        (_, Value::Object(members)) => !members.is_empty(),
        // No reasons at all are some that a printer may have.
        (_, Value::Array(elements)) => !elements.is_empty() || *about == About::Phase,
        (Landing::Above, _) | (Landing::At, Value::Null) => false,
        (Landing::At, Value::Bool(_)) => matches!(about, About::On(_)),
        (Landing::At, Value::Number(_)) => true,
        (Landing::At, Value::String(text)) => match about {
            About::JobName => true,
            About::Phase => is_state_word(text),
            _ => has_digit(text),
        },
    }
}

/// Tells whether a text is a word for a state, so that it stands for another phase and not for none.
///
/// # Source
/// RFC 8011 sections 5.3.7 and 5.4.11, and the words of a sighting. A dialect's own words are not
/// known here.
fn is_state_word(text: &str) -> bool {
    let word_of = |value: serde_json::Result<Value>| value.ok().map(|value| value == text);
    let of_job = JobState::ALL.map(serde_json::to_value);
    let of_printer = PrinterState::ALL.map(serde_json::to_value);
    let mut states = of_job.into_iter().chain(of_printer).filter_map(word_of);
    states.any(|is_it| is_it) || Phase::ALL.iter().any(|phase| phase.word() == text)
}

#[cfg(test)]
mod tests {
    use coldbed_mock::dialect::Dialect;
    use coldbed_mock::drift::{ReplaceByNull, ReplaceValue, Scale};
    use serde_json::json;

    use super::*;

    fn is_excused(drift: &Drift, about: &About) -> bool {
        let places = Places::of_plain(&Dialect::builtin("plain").unwrap());
        misleads(drift, about, &places)
    }

    fn replaced(pointer: &str, value: Value) -> Drift {
        Drift::of(pointer, ReplaceValue { value })
    }

    #[test]
    fn what_looks_right_and_is_not_is_nobodys_mistake() {
        let target = About::Target("extruder".to_owned());
        let place = "/heaters/extruder/target-celsius";
        let scale = Scale {
            factor: 1.8,
            offset: 32.0,
        };
        assert!(is_excused(&Drift::of(place, scale), &target));
        assert!(is_excused(&replaced(place, json!(57)), &target));
        assert!(is_excused(&replaced(place, json!("57")), &target));
        let finished = replaced("/job/job-state", json!("completed"));
        assert!(is_excused(&finished, &About::Phase));
        let reason = replaced("/printer-state-reasons/0", json!("state-7"));
        assert!(is_excused(&reason, &About::Phase));
        assert!(is_excused(&Drift::of("/job", ReplaceByNull), &About::Phase));
    }

    #[test]
    fn what_can_be_seen_to_be_wrong_excuses_no_wrong_value() {
        let target = About::Target("extruder".to_owned());
        let place = "/heaters/extruder/target-celsius";
        assert!(!is_excused(&Drift::of(place, ReplaceByNull), &target));
        for value in [json!(null), json!(true), json!("hot"), json!([]), json!({})] {
            assert!(
                !is_excused(&replaced(place, value.clone()), &target),
                "{value}"
            );
        }
        let platform = About::Target("platform".to_owned());
        assert!(!is_excused(&replaced(place, json!(57)), &platform));
        assert!(!is_excused(&replaced("", json!(57)), &target));
        let resting = replaced("/job/job-state", json!("resting"));
        assert!(!is_excused(&resting, &About::Phase));
        let null = Drift::of("/printer-state", ReplaceByNull);
        assert!(!is_excused(&null, &About::Phase));
    }
}
