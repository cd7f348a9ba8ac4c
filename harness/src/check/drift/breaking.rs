//! Drifts after which the watcher must say that it does not know what it cannot read any more.

use coldbed_mock::dialect::Quantity;
use coldbed_mock::drift::{
    Change, EmptyBody, Garbage, MoveMember, NumberAsText, ObjectAsArray, RemoveMember,
    RenameMember, ReplaceByNull, ReplaceValue, TrailingText, ValueAsObject,
};
use coldbed_mock::sim::Phase;
use serde_json::{Value, json};

use super::spots::{self, Spot};
use super::trial::Trial;
use super::{Check, Context, Level, RIGHT_OR_UNKNOWN, drift_check};

pub(super) const CHECKS: &[Check] = &[
    drift_check!(
        "null-target-survived",
        null_targets,
        "a target that turns null is unknown: no crash, no number, and neither on nor off",
        "RFC 8259 section 3: null is a value of its own, not a number",
        "each heater's target turns null",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "null-heater-is-unknown",
        null_heaters,
        "a temperature, a heater or all heaters that turn null are unknown",
        "RFC 8259 section 3: null is a value of its own, not a number",
        "each heater's temperature, each heater and the object with all of them turn null",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "null-job-is-unknown",
        null_job,
        "a number of the job, its name or the job that turns null is unknown",
        "RFC 8259 section 3: null is a value of its own, not a number",
        "each number of the job, its name and the job itself turn null while the printer prints; a phase without a job is then right, too",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "null-state-is-unknown",
        null_states,
        "a state or a list of reasons that turns null makes the phase unknown, not another one",
        "RFC 8259 section 3: null is a value of its own; RFC 8011 sections 5.3.8 and 5.4.12: without a reason the keyword is `none`",
        "each state and each list of reasons turns null while the printer heats",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "missing-heater-is-unknown",
        missing_heaters,
        "a temperature, a target, a heater or all heaters that are missing are unknown",
        "common practice: an absent member says nothing of its value",
        "each number of each heater, each heater and the object with all of them are left out",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "missing-job-is-unknown",
        missing_job,
        "a number of the job, its name or the job that is missing is unknown",
        "common practice: an absent member says nothing of its value; a job that is missing is not a job that is null",
        "each number of the job, its name and the job itself are left out while the printer prints",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "missing-state-is-unknown",
        missing_states,
        "a state or a list of reasons that is missing makes the phase unknown, not another one",
        "RFC 8011 sections 5.3.8 and 5.4.12: without a reason the keyword is `none`, so no list is no answer",
        "each state and each list of reasons is left out while the printer heats",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "renamed-heater-is-unknown",
        renamed_heaters,
        "what a heater's member of another name says is not known",
        "common practice: a value is found by the name it was told by",
        "each number of each heater, each heater and the object with all of them get another name",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "renamed-job-is-unknown",
        renamed_job,
        "what a job's member of another name says is not known",
        "common practice: a value is found by the name it was told by",
        "each number of the job, its name and the job itself get another name",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "renamed-state-is-unknown",
        renamed_states,
        "a state or a list of reasons of another name makes the phase unknown, not another one",
        "common practice: a value is found by the name it was told by",
        "each state and each list of reasons gets another name while the printer heats",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "moved-member-is-unknown",
        moved,
        "a number that has moved to the object above is unknown, or still right",
        "RFC 8259 section 4: a member belongs to its object",
        "each number moves up into the object that has its object",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "number-as-text-not-misread",
        numbers_as_texts,
        "a number that has become a text is read as that number, or is unknown",
        "RFC 8259 section 3: a text is another type than a number",
        "each number becomes a text with the same digits in it",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "text-for-number-is-unknown",
        texts_for_numbers,
        "what is no number is unknown: not 0, not 1, not the last one",
        "RFC 8259 section 3: texts, true, lists and objects are other types than numbers",
        "in the place of each number stands an empty text, a word, true, an empty list or an empty object",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "object-for-value-is-unknown",
        objects_for_values,
        "a value with an object round it is unknown, or still right",
        "RFC 8259 section 3: an object is another type than what it has in it",
        "each number becomes a member of an object in its place",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "array-for-object-is-unknown",
        arrays_for_objects,
        "what an object says that has become an array is unknown",
        "RFC 8259 section 3: an array is another type than an object",
        "the whole body and each object in it that matters become arrays of their members' values",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "unknown-state-word-is-unknown",
        unknown_words,
        "a state that the watcher never heard of makes the phase unknown, not another one",
        "RFC 8011 sections 5.3.7 and 5.4.11: more values may be registered",
        "each state becomes a word that no watcher was told of, while the printer heats",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "state-of-other-type-is-unknown",
        states_of_other_types,
        "a state that is no text, or a list of reasons that is none, makes the phase unknown, not another one",
        "RFC 8259 section 3: other types; RFC 8011 section 5.3.7 has the states as numbers",
        "each state becomes a number, and a member of an object in its place, each list of reasons one text, while the printer heats",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "empty-body-is-unknown",
        empty_bodies,
        "an answer without a body, or with nothing but white space in it, says nothing",
        "RFC 8259 section 2: a JSON text has a value",
        "answers are 200 with no byte in the body, and with one line's end",
        RIGHT_OR_UNKNOWN
    ),
    drift_check!(
        "other-json-is-unknown",
        other_json,
        "a body that is JSON and not the object the watcher knows says nothing",
        "RFC 8259 section 2: any value is a JSON text",
        "the whole body is an empty object, an empty list, null, 0, an empty text or false",
        RIGHT_OR_UNKNOWN
    ),
    Check {
        level: Level::Should,
        ..drift_check!(
            "impossible-value-not-shown",
            impossible,
            "a number that cannot be is unknown: progress beyond 0 to 100 %, a temperature below absolute zero, a time below 0",
            "common practice; absolute zero is -273.15 C (BIPM, The International System of Units, from memory). A change of the unit that gives a number which can be cannot be seen",
            "in the place of each number stands one that cannot be",
            RIGHT_OR_UNKNOWN
        )
    },
];

/// A body without a job may be one of a printer that has none, however busy it is.
const WITHOUT_A_JOB: &[Phase] = &[Phase::Idle, Phase::Heating];

fn each(spots: &[Spot], change: impl Into<Change>) -> Vec<Trial> {
    let change = change.into();
    spots
        .iter()
        .map(|spot| Trial::of(spot, change.clone()))
        .collect()
}

fn while_heating(trials: Vec<Trial>) -> Vec<Trial> {
    trials.into_iter().map(Trial::while_heating).collect()
}

/// Gives the numbers of the heaters, the heaters, and what has them all.
fn heater_spots(context: &Context) -> Vec<Spot> {
    [
        spots::of_heaters(context),
        spots::heater_objects(context),
        spots::all_heaters(context),
    ]
    .concat()
}

/// Gives the numbers of the job, its name, and the job.
fn job_spots(context: &Context) -> Vec<Spot> {
    let mut all = spots::of_job(context);
    all.extend(spots::job_name(context));
    all.extend(spots::job_objects(context));
    all
}

fn null_targets(context: &Context) -> Vec<Trial> {
    each(&spots::targets(context), ReplaceByNull)
}

fn null_heaters(context: &Context) -> Vec<Trial> {
    let targets = spots::targets(context);
    let mut rest = heater_spots(context);
    rest.retain(|spot| !targets.contains(spot));
    each(&rest, ReplaceByNull)
}

fn null_job(context: &Context) -> Vec<Trial> {
    job_spots(context)
        .iter()
        .map(|spot| match Trial::of(spot, ReplaceByNull) {
            trial if spot.shows.is_none() => trial.or_read_as(WITHOUT_A_JOB),
            trial => trial,
        })
        .collect()
}

fn null_states(context: &Context) -> Vec<Trial> {
    while_heating(each(&spots::of_phase(context), ReplaceByNull))
}

fn missing_heaters(context: &Context) -> Vec<Trial> {
    each(&heater_spots(context), RemoveMember)
}

fn missing_job(context: &Context) -> Vec<Trial> {
    each(&job_spots(context), RemoveMember)
}

fn missing_states(context: &Context) -> Vec<Trial> {
    while_heating(each(&spots::of_phase(context), RemoveMember))
}

fn renamed(spots: &[Spot]) -> Vec<Trial> {
    spots
        .iter()
        .filter_map(|spot| {
            let (_, name) = spot.member()?;
            let to = format!("{name}-now");
            Some(Trial::of(spot, RenameMember { to }))
        })
        .collect()
}

fn renamed_heaters(context: &Context) -> Vec<Trial> {
    renamed(&heater_spots(context))
}

fn renamed_job(context: &Context) -> Vec<Trial> {
    renamed(&job_spots(context))
}

fn renamed_states(context: &Context) -> Vec<Trial> {
    while_heating(renamed(&spots::of_phase(context)))
}

fn moved(context: &Context) -> Vec<Trial> {
    spots::numbers(context)
        .iter()
        .filter_map(|spot| {
            let (object, name) = spot.member()?;
            let (above, _) = object.rsplit_once('/')?;
            let to = format!("{above}/{name}");
            Some(Trial::of(spot, MoveMember { to }))
        })
        .collect()
}

fn numbers_as_texts(context: &Context) -> Vec<Trial> {
    each(&spots::numbers(context), NumberAsText)
}

fn texts_for_numbers(context: &Context) -> Vec<Trial> {
    let others = [json!(""), json!("n/a"), json!(true), json!([]), json!({})];
    let with = |(spot, value): (&Spot, &Value)| {
        let name = format!("{value} for a number");
        let value = value.clone();
        Trial::of(spot, ReplaceValue { value }).called(&name)
    };
    let numbers = spots::numbers(context);
    // One more than there are numbers, so that no number always has the same.
    numbers
        .iter()
        .zip(others.iter().cycle())
        .map(with)
        .collect()
}

fn objects_for_values(context: &Context) -> Vec<Trial> {
    let change = ValueAsObject {
        member: "value".to_owned(),
    };
    each(&spots::numbers(context), change)
}

fn arrays_for_objects(context: &Context) -> Vec<Trial> {
    each(&spots::objects(context), ObjectAsArray)
}

fn unknown_words(context: &Context) -> Vec<Trial> {
    let value = json!("resting");
    while_heating(each(&spots::phase_texts(context), ReplaceValue { value }))
}

fn states_of_other_types(context: &Context) -> Vec<Trial> {
    let texts = spots::phase_texts(context);
    let inside = || ValueAsObject {
        member: "value".to_owned(),
    };
    let with = |spots: &[Spot], value: Value| {
        let name = format!("{value} for a state");
        let trials = each(spots, ReplaceValue { value });
        let called = trials.into_iter().map(move |trial| trial.called(&name));
        while_heating(called.collect())
    };
    [
        with(&texts, json!(5)),
        while_heating(each(&texts, inside())),
        // Read as one keyword it is right, and read letter by letter it is not.
        with(
            &spots::phase_lists(context),
            json!("extruder-heating-report"),
        ),
    ]
    .concat()
}

fn empty_bodies(_: &Context) -> Vec<Trial> {
    let whole = spots::whole();
    let mut blank = Trial::of(&whole, EmptyBody).called("a line's end");
    let text = "\r\n".to_owned();
    let line = coldbed_mock::drift::Drift::of("", TrailingText { text });
    blank.tried.drifts.push(line);
    vec![Trial::of(&whole, EmptyBody), blank]
}

fn other_json(_: &Context) -> Vec<Trial> {
    ["{}", "[]", "null", "0", "\"\"", "false"]
        .map(|text| {
            let name = format!("`{text}`");
            let text = text.to_owned();
            Trial::of(&spots::whole(), Garbage { text }).called(&name)
        })
        .into()
}

fn impossible(context: &Context) -> Vec<Trial> {
    let mut trials = Vec::new();
    for spot in spots::numbers(context) {
        let values: &[f64] = match spot.shows {
            Some(Quantity::Progress) => &[250.0, -20.0],
            Some(Quantity::Actual(_)) => &[-400.0],
            Some(Quantity::Elapsed | Quantity::Remaining) => &[-5.0],
            _ => &[],
        };
        trials.extend(values.iter().map(|value| {
            let name = format!("{value} for a number");
            let value = json!(value);
            Trial::of(&spot, ReplaceValue { value }).called(&name)
        }));
    }
    trials
}
