//! Drifts after which the watcher must still be right.

use coldbed_mock::drift::{
    AddMember, AppendElement, Blank, Change, Chunked, Corpus, CorpusVerdict, DecimalPoint,
    DeepenUnknown, Drift, DriftClass, EscapedNames, ExponentNumbers, FieldCase, FieldNames, Gzip,
    Indented, Pad, PrependElement, ReverseMembers, SortMembers, Spaced, TrailingText, corpus,
};
use serde_json::{Value, json};

use super::spots::{self, Spot};
use super::trial::Trial;
use super::{Check, Context, STILL_RIGHT, drift_check};

pub(super) const CHECKS: &[Check] = &[
    drift_check!(
        "extra-field-ignored",
        extra_members,
        "a member the watcher does not know changes nothing of what it claims",
        "RFC 7493 section 4.2 (must-ignore)",
        "the whole body and each object in it that matters gets one more member, with a text, an object or a deep list in it; one that has nothing but heaters in it does not, for there a name that is new is a heater's",
        STILL_RIGHT
    ),
    drift_check!(
        "extra-heater-ignored",
        extra_heaters,
        "one more heater, before or after the others, changes nothing of what is claimed of them",
        "RFC 7493 section 4.2 (must-ignore); RFC 8259 section 4: members have no order",
        "what lists the heaters gets one more, which is cold",
        STILL_RIGHT
    ),
    drift_check!(
        "member-order-ignored",
        member_orders,
        "the order of an object's members changes nothing",
        "RFC 8259 section 4: an object is an unordered collection",
        "the members of the whole body and of each object that matters come in reverse, and all of them sorted by name",
        STILL_RIGHT
    ),
    drift_check!(
        "white-space-ignored",
        white_spaces,
        "white space between the parts of the body changes nothing",
        "RFC 8259 section 2: white space round any structural character",
        "the body is written over several lines, with tabs, with blanks, and with a line's end behind it",
        STILL_RIGHT
    ),
    drift_check!(
        "escapes-read",
        escapes,
        "names and texts written with escapes are the same names and texts",
        "RFC 8259 section 7: any character may be escaped; section 8.3: names are compared after that",
        "letters of the members' names are written as escapes, in the whole body and in parts of it",
        STILL_RIGHT
    ),
    drift_check!(
        "number-spelling-read",
        number_spellings,
        "a number is the same however it is written",
        "RFC 8259 section 6: fraction and exponent",
        "whole numbers get a decimal point, and all get an exponent",
        STILL_RIGHT
    ),
    drift_check!(
        "large-body-read",
        large_bodies,
        "a body of 60 KB is read as a small one is",
        "RFC 8259 section 9 lets a parser limit the size and names no figure; 64 KiB are our own choice",
        "a member that nobody knows has a text of 60000 bytes, behind what matters and before it",
        STILL_RIGHT
    ),
    drift_check!(
        "chunked-body-read",
        chunked,
        "a body in chunks is read as one of a known length is",
        "RFC 9112 section 7.1: a recipient must be able to read the chunked coding",
        "answers come in chunks instead of with their length",
        STILL_RIGHT
    ),
    drift_check!(
        "gzip-only-if-asked",
        compressed,
        "a watcher that names gzip in Accept-Encoding can read it",
        "RFC 9110 sections 12.5.3 and 8.4.1.3",
        "the host begins to compress answers for those who accept it",
        STILL_RIGHT
    ),
    drift_check!(
        "field-name-case-ignored",
        field_names,
        "the letter case of field names changes nothing",
        "RFC 9110 section 5.1: field names are case-insensitive",
        "the answers' field names come in lower, upper and title case",
        STILL_RIGHT
    ),
    drift_check!(
        "unknown-reason-ignored",
        unknown_reasons,
        "a reason that the watcher never heard of changes nothing",
        "RFC 8011 section 5.4.12 (from memory): clients ignore keywords they do not know; the reasons are a set",
        "while the printer heats each list of reasons gets one more keyword, before and after the others",
        STILL_RIGHT
    ),
    drift_check!(
        "valid-json-read",
        valid_json,
        "whatever JSON may be is read, where it stands in a member that nobody knows",
        "RFC 8259 section 9: a parser must accept all texts of the grammar",
        "the body gets one more member for each text of the corpus that a parser must accept, section by section",
        STILL_RIGHT
    ),
];

fn extra_members(context: &Context) -> Vec<Trial> {
    let mut objects = spots::objects(context);
    let of_heaters_only = spots::maps_of_heaters(context);
    objects.retain(|spot| !of_heaters_only.contains(spot));
    let values = [
        json!("new here"),
        json!({"text": "new here", "level": 2}),
        json!([[1], null]),
    ];
    let add = |value: &Value| AddMember {
        member: "note".to_owned(),
        value: value.clone(),
    };
    let mut trials: Vec<Trial> = objects
        .iter()
        .zip(values.iter().cycle())
        .map(|(spot, value)| Trial::of(spot, add(value)))
        .collect();
    let deep = DeepenUnknown {
        member: "notes".to_owned(),
        levels: 32,
    };
    trials.push(Trial::of(&spots::outermost(context), deep));
    trials
}

fn extra_heaters(context: &Context) -> Vec<Trial> {
    let heater = spots::heater_objects(context).into_iter().next();
    let shape = heater.and_then(|spot| spots::value(context, &spot));
    let Some(Value::Object(mut cold)) = shape else {
        return Vec::new();
    };
    for number in cold.values_mut().filter(|value| value.is_number()) {
        *number = json!(18.5);
    }
    let cold = Value::Object(cold);
    let add = |spot: &Spot, change: Change, name: &str| Trial::of(spot, change).called(name);
    spots::all_heaters(context)
        .iter()
        .flat_map(|spot| {
            let member = "dryer".to_owned();
            let value = cold.clone();
            let after = add(
                spot,
                AddMember { member, value }.into(),
                "extra-heater-last",
            );
            let mut before = after.clone().called("extra-heater-first");
            let reverse = spot.pointers.iter().map(|at| Drift::of(at, ReverseMembers));
            before.tried.drifts.extend(reverse);
            [after, before]
        })
        .collect()
}

fn member_orders(context: &Context) -> Vec<Trial> {
    let reverse = |spot: &Spot| Trial::of(spot, ReverseMembers);
    let mut trials: Vec<Trial> = spots::objects(context).iter().map(reverse).collect();
    let all = spots::objects(context);
    let all = all.iter().flat_map(|spot| &spot.pointers);
    let drifts = all.map(|at| Drift::of(at, SortMembers)).collect();
    let label = "sort-members at every object".to_owned();
    trials.push(Trial::with(label, drifts));
    trials
}

fn white_spaces(_: &Context) -> Vec<Trial> {
    let text = "\r\n".to_owned();
    let changes: [(&str, Change); 5] = [
        ("indented", Indented { spaces: 4 }.into()),
        ("spaced with tabs", spaced(Blank::Tab)),
        ("spaced with line feeds", spaced(Blank::LineFeed)),
        (
            "spaced with carriage returns",
            spaced(Blank::CarriageReturn),
        ),
        ("a line's end behind it", TrailingText { text }.into()),
    ];
    changes
        .map(|(name, change)| Trial::of(&spots::whole(), change).called(name))
        .into()
}

fn spaced(blank: Blank) -> Change {
    Spaced { blank }.into()
}

fn escapes(context: &Context) -> Vec<Trial> {
    let mut places = vec![spots::whole()];
    places.extend(spots::all_heaters(context));
    places.extend(spots::job_objects(context));
    let escape = |spot: &Spot| Trial::of(spot, EscapedNames);
    places.iter().map(escape).collect()
}

fn number_spellings(context: &Context) -> Vec<Trial> {
    let point = Trial::of(&spots::whole(), DecimalPoint);
    let exponent = Trial::of(&spots::whole(), ExponentNumbers);
    let each = spots::of_job(context);
    let each = each.iter().map(|spot| Trial::of(spot, DecimalPoint));
    [point, exponent].into_iter().chain(each).collect()
}

fn large_bodies(context: &Context) -> Vec<Trial> {
    let object = spots::outermost(context);
    let pad = Pad {
        member: "notes".to_owned(),
        bytes: 60_000,
    };
    let behind = Trial::of(&object, pad).called("pad behind what matters");
    let mut before = behind.clone().called("pad before what matters");
    let reverse = object
        .pointers
        .iter()
        .map(|at| Drift::of(at, ReverseMembers));
    before.tried.drifts.extend(reverse);
    vec![behind, before]
}

fn chunked(_: &Context) -> Vec<Trial> {
    vec![Trial::of(&spots::whole(), Chunked)]
}

fn compressed(_: &Context) -> Vec<Trial> {
    vec![Trial::of(&spots::whole(), Gzip)]
}

fn field_names(_: &Context) -> Vec<Trial> {
    [
        ("lower case", FieldCase::Lower),
        ("upper case", FieldCase::Upper),
        ("title case", FieldCase::Title),
    ]
    .map(|(name, case)| {
        Trial::of(&spots::whole(), FieldNames { case }).called(&format!("field names in {name}"))
    })
    .into()
}

fn unknown_reasons(context: &Context) -> Vec<Trial> {
    let value = || json!("tidy-up-report");
    let keyword = |spot: &Spot| {
        let last = Trial::of(spot, AppendElement { value: value() });
        // A set has no order, so one that comes first changes as little.
        let first = Trial::of(spot, PrependElement { value: value() }).owed(DriftClass::Compatible);
        [last.while_heating(), first.while_heating()]
    };
    spots::phase_lists(context)
        .iter()
        .flat_map(keyword)
        .collect()
}

fn valid_json(context: &Context) -> Vec<Trial> {
    let object = spots::outermost(context);
    let sections = ["2", "3", "4", "5", "6", "7"];
    sections
        .map(|section| {
            let entries = corpus()
                .iter()
                .filter(|entry| entry.section == section && entry.verdict == CorpusVerdict::Accept);
            let drifts: Vec<Drift> = entries
                .flat_map(|entry| {
                    let member = Some(format!("corpus {}", entry.id));
                    let entry = entry.id.clone();
                    let change = Corpus { entry, member };
                    let at = object.pointers.iter();
                    at.map(move |at| Drift::of(at, change.clone()))
                })
                .collect();
            let place = super::trial::words(&object);
            let label = format!(
                "{} valid texts of RFC 8259 section {section} at more members of {place}",
                drifts.len()
            );
            Trial::with(label, drifts)
        })
        .into()
}
