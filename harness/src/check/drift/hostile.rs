//! Drifts that the watcher must survive.

use coldbed_mock::dialect::Quantity;
use coldbed_mock::drift::{
    ByteOrderMark, Change, Deep, DuplicateMember, Garbage, HugeNumber, InvalidUtf8, LoneSurrogate,
    NotANumber, Pad, Position, SurrogateHalf, SurrogatePlace, TrailingComma, TrailingText,
    Truncated,
};
use serde_json::{Value, json};

use super::spots::{self, Spot};
use super::trial::Trial;
use super::{Check, Context, SURVIVED, drift_check};

pub(super) const CHECKS: &[Check] = &[
    drift_check!(
        "duplicate-member-survived",
        duplicates,
        "a member that is there twice is read either way, or not at all",
        "RFC 8259 section 4: with names that are not unique, what a receiver does is unpredictable",
        "numbers, states and objects are there once more as null or empty, before and after the others",
        SURVIVED
    ),
    drift_check!(
        "cut-body-not-believed",
        cut_bodies,
        "a body that ends in the middle, with a length that fits, is no answer",
        "RFC 8259 section 2: an object's beginning is no JSON text",
        "the body ends after its first byte, after a quarter, a half, three quarters, and one byte before its end",
        SURVIVED
    ),
    drift_check!(
        "text-after-the-body-survived",
        trailing_texts,
        "something behind the body makes it no answer, or changes nothing",
        "RFC 8259 section 2: a JSON text is one value with white space around it",
        "a letter, a bracket, a comma, a zero byte or an empty object comes behind the body",
        SURVIVED
    ),
    drift_check!(
        "trailing-comma-survived",
        trailing_commas,
        "a comma too many makes the body no answer, or changes nothing",
        "RFC 8259 sections 4 and 5: a comma stands between two",
        "the whole body and objects in it have a comma behind their last member",
        SURVIVED
    ),
    drift_check!(
        "deep-nesting-survived",
        deep_bodies,
        "lists within lists, deeper than any stack, do not end the watcher",
        "RFC 8259 section 9: a parser may set limits on the depth",
        "a member that nobody knows has 10000 and 200000 lists within each other",
        SURVIVED
    ),
    drift_check!(
        "huge-body-survived",
        huge_bodies,
        "a body of megabytes does not end the watcher",
        "RFC 8259 section 9: a parser may set limits on the size",
        "a member that nobody knows has a text of 2 and of 6 MB",
        SURVIVED
    ),
    drift_check!(
        "invalid-text-encoding-survived",
        no_utf8,
        "bytes that are no text make the body no answer, or change nothing but that text",
        "RFC 8259 section 8.1: JSON is UTF-8; RFC 3629 section 3: 0xFF never appears",
        "the job's name and each state end in the byte 0xFF",
        SURVIVED
    ),
    drift_check!(
        "lone-surrogate-survived",
        lone_surrogates,
        "half a character in a text or a name does not end the watcher",
        "RFC 8259 section 8.2: what a receiver does with it is unpredictable",
        "the job's name, each state and members' names end in a lone escape of a surrogate",
        SURVIVED
    ),
    drift_check!(
        "no-json-number-survived",
        no_numbers,
        "NaN is no number: the body is no answer, or the value unknown",
        "RFC 8259 section 6: Infinity and NaN are not permitted",
        "NaN stands in the place of each number",
        SURVIVED
    ),
    drift_check!(
        "huge-number-survived",
        huge_numbers,
        "a number beyond what a computer counts does not end the watcher",
        "RFC 8259 section 6: range and precision may be limited; RFC 7493 section 2.2",
        "numbers such as 1e400, 18446744073709551616 and -0 stand in the place of each number; what is claimed of that one is not judged",
        SURVIVED
    ),
    drift_check!(
        "byte-order-mark-survived",
        byte_order_mark,
        "a byte order mark makes the body no answer, or changes nothing",
        "RFC 8259 section 8.1: it must not be sent, and may be ignored",
        "bodies begin with a byte order mark",
        SURVIVED
    ),
    drift_check!(
        "page-instead-of-json-survived",
        pages,
        "a page or a line of text with status 200 is no answer",
        "RFC 9110 section 15.3.1; common practice: a proxy or a host that starts up answers with a page",
        "the body is a page of HTML, a line of text, or zero bytes",
        SURVIVED
    ),
];

fn each(spots: &[Spot], change: impl Into<Change>) -> Vec<Trial> {
    let change = change.into();
    spots
        .iter()
        .map(|spot| Trial::of(spot, change.clone()))
        .collect()
}

fn duplicates(context: &Context) -> Vec<Trial> {
    let mut wanted: Vec<(Spot, Value, bool)> = Vec::new();
    let with = |spots: Vec<Spot>, value: Value, heats: bool| {
        spots
            .into_iter()
            .map(move |spot| (spot, value.clone(), heats))
    };
    // Seven of them: as many as there is time for.
    let last = |mut spots: Vec<Spot>| spots.pop().into_iter().collect();
    let mut numbers = spots::of_job(context);
    numbers.retain(|spot| spot.shows != Some(Quantity::Elapsed));
    wanted.extend(with(spots::phase_texts(context), Value::Null, true));
    wanted.extend(with(last(spots::phase_lists(context)), Value::Null, true));
    wanted.extend(with(last(spots::targets(context)), Value::Null, false));
    wanted.extend(with(numbers, Value::Null, false));
    wanted.extend(with(spots::all_heaters(context), json!({}), false));
    let places = [Position::Last, Position::First];
    wanted
        .into_iter()
        .zip(places.into_iter().cycle())
        .filter_map(|((spot, value, heats), position)| {
            let (object, name) = spot.member()?;
            let object = Spot {
                pointers: vec![object.to_owned()],
                shows: None,
            };
            let named = match position {
                Position::First => format!("`{name}` twice, {value} first,"),
                Position::Last => format!("`{name}` twice, {value} last,"),
            };
            let change = DuplicateMember {
                member: name.to_owned(),
                value,
                position,
            };
            let trial = Trial::of(&object, change).called(&named);
            Some(if heats { trial.while_heating() } else { trial })
        })
        .collect()
}

fn cut_bodies(context: &Context) -> Vec<Trial> {
    let length = spots::bodies(context)
        .first()
        .map_or(0, |body| body.to_string().len());
    let cuts = [
        1,
        length / 4,
        length / 2,
        length * 3 / 4,
        length.saturating_sub(2),
    ];
    cuts.into_iter()
        .filter_map(|cut| u32::try_from(cut).ok())
        .map(|bytes| {
            let name = format!("cut after {bytes} of about {length} bytes");
            Trial::of(&spots::whole(), Truncated { bytes }).called(&name)
        })
        .collect()
}

fn trailing_texts(_: &Context) -> Vec<Trial> {
    ["x", "]", ",", "\u{0}", "\n{}"]
        .map(|text| {
            let name = format!("{text:?} behind it");
            let text = text.to_owned();
            Trial::of(&spots::whole(), TrailingText { text }).called(&name)
        })
        .into()
}

fn trailing_commas(context: &Context) -> Vec<Trial> {
    let mut places = vec![spots::whole()];
    places.extend(spots::all_heaters(context));
    places.extend(spots::job_objects(context));
    each(&places, TrailingComma)
}

fn deep_bodies(context: &Context) -> Vec<Trial> {
    let deep = |levels| {
        let member = "notes".to_owned();
        Deep { member, levels }
    };
    let mut places = vec![spots::outermost(context)];
    places.extend(spots::job_objects(context).into_iter().take(1));
    places.dedup();
    [10_000, 200_000]
        .into_iter()
        .flat_map(|levels| {
            let name = format!("{levels} lists within each other");
            each(&places, deep(levels))
                .into_iter()
                .map(move |trial| trial.called(&name))
        })
        .collect()
}

fn huge_bodies(context: &Context) -> Vec<Trial> {
    [2_000_000, 6_000_000]
        .map(|bytes| {
            let member = "notes".to_owned();
            let name = format!("{bytes} bytes more");
            Trial::of(&spots::outermost(context), Pad { member, bytes }).called(&name)
        })
        .into()
}

/// Gives the texts that a body has.
fn texts(context: &Context) -> Vec<(Spot, bool)> {
    let name = spots::job_name(context)
        .into_iter()
        .map(|spot| (spot, false));
    let states = spots::phase_texts(context)
        .into_iter()
        .map(|spot| (spot, true));
    name.chain(states).collect()
}

fn on_texts(context: &Context, change: impl Into<Change>) -> Vec<Trial> {
    let change = change.into();
    texts(context)
        .into_iter()
        .map(|(spot, is_state)| {
            let trial = Trial::of(&spot, change.clone());
            // What the watcher makes of a state must be right; what it makes of a name is its own.
            match is_state {
                true => trial.while_heating(),
                false => trial.sparing(&spot),
            }
        })
        .collect()
}

fn no_utf8(context: &Context) -> Vec<Trial> {
    on_texts(context, InvalidUtf8)
}

fn lone_surrogates(context: &Context) -> Vec<Trial> {
    let half = SurrogateHalf::High;
    let place = SurrogatePlace::Text;
    let mut trials = on_texts(context, LoneSurrogate { half, place });
    let names = [
        spots::targets(context).into_iter().next(),
        spots::of_job(context).into_iter().next(),
    ];
    let half = SurrogateHalf::Low;
    let place = SurrogatePlace::Name;
    for spot in names.into_iter().flatten() {
        trials.push(Trial::of(&spot, LoneSurrogate { half, place }));
    }
    trials
}

fn no_numbers(context: &Context) -> Vec<Trial> {
    each(&spots::numbers(context), NotANumber)
}

fn huge_numbers(context: &Context) -> Vec<Trial> {
    let texts = [
        "1e400",
        "18446744073709551616",
        "-1e400",
        "-0",
        "9007199254740993",
    ];
    let numbers = spots::numbers(context);
    numbers
        .iter()
        .zip(texts.into_iter().cycle())
        .map(|(spot, text)| {
            let name = format!("{text} for a number");
            let text = text.to_owned();
            Trial::of(spot, HugeNumber { text })
                .called(&name)
                .sparing(spot)
        })
        .collect()
}

fn byte_order_mark(_: &Context) -> Vec<Trial> {
    vec![Trial::of(&spots::whole(), ByteOrderMark)]
}

fn pages(_: &Context) -> Vec<Trial> {
    [
        ("a page", "<!doctype html><title>Busy</title><p>Busy</p>"),
        ("a line of text", "busy"),
        ("zero bytes", "\u{0}\u{0}\u{0}\u{0}"),
    ]
    .map(|(name, text)| {
        let text = text.to_owned();
        Trial::of(&spots::whole(), Garbage { text }).called(name)
    })
    .into()
}
