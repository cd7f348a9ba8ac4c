//! Changes of the spelling.

use proptest::prelude::*;
use proptest::sample::select;

use super::place::Places;
use super::{Row, names, one_of, only, row, values};
use crate::drift::DriftClass::{self, Breaking, Compatible, Hostile};
use crate::drift::{
    Blank, ByteOrderMark, Change, Corpus, CorpusVerdict, DecimalPoint, Deep, Drift,
    DuplicateMember, EmptyBody, EscapedNames, ExponentNumbers, Garbage, HugeNumber, Indented,
    InvalidUtf8, LoneSurrogate, NonAsciiEscaped, NotANumber, Position, Spaced, SurrogateHalf,
    SurrogatePlace, TrailingComma, TrailingText, Truncated, corpus,
};

pub(super) fn rows(places: &Places) -> Vec<Row> {
    let mut rows = compatible(places);
    rows.extend(hostile(places));
    rows.extend(duplicates(places));
    rows.extend(of_the_corpus(places));
    let other = |text| Garbage { text }.into();
    let json = one_of(&["[null]", "0", "\"\"", "{}", "false"], other);
    rows.extend(row(Breaking, &places.all, json));
    rows.extend(row(Breaking, &[String::new()], only(EmptyBody)));
    rows
}

fn compatible(places: &Places) -> Vec<Row> {
    let blanks = vec![
        Blank::Space,
        Blank::Tab,
        Blank::LineFeed,
        Blank::CarriageReturn,
    ];
    let spaced = select(blanks).prop_map(|blank| Spaced { blank }.into());
    let indented = (0..=8_u8).prop_map(|spaces| Indented { spaces }.into());
    let trailing = one_of(&["\n", "\r\n", " ", "\t"], |text| {
        TrailingText { text }.into()
    });
    [
        row(Compatible, &places.containers, spaced),
        row(Compatible, &places.containers, indented),
        row(Compatible, &places.all, only(EscapedNames)),
        row(Compatible, &places.all, only(NonAsciiEscaped)),
        row(Compatible, &places.all, only(ExponentNumbers)),
        row(Compatible, &places.all, only(DecimalPoint)),
        row(Compatible, &[String::new()], trailing),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn hostile(places: &Places) -> Vec<Row> {
    let whole = [String::new()];
    let numbers = one_of(
        &[
            "9007199254740993",
            "-9007199254740993",
            "1e400",
            "-1e400",
            "1e-400",
            "-0",
            "18446744073709551616",
        ],
        |text| HugeNumber { text }.into(),
    );
    let garbage = one_of(
        &[
            "<p>Busy</p>",
            "021",
            "+1",
            ".5",
            "'a'",
            "True",
            "undefined",
            "[1",
        ],
        |text| Garbage { text }.into(),
    );
    let trailing = one_of(&["x", "\n{}", "]", "\u{0}", ","], |text| {
        TrailingText { text }.into()
    });
    let longest = u32::try_from(places.length).unwrap_or(u32::MAX);
    let cut = (0..longest.max(1)).prop_map(|bytes| Truncated { bytes }.into());
    let deep = names().prop_map(|member| {
        let levels = 10_000;
        Deep { member, levels }.into()
    });
    [
        row(Hostile, &places.numbers, only(NotANumber)),
        row(Hostile, &places.numbers, numbers),
        row(Hostile, &places.texts, only(InvalidUtf8)),
        row(Hostile, &places.texts, surrogates(SurrogatePlace::Text)),
        row(Hostile, &places.members, surrogates(SurrogatePlace::Name)),
        row(Hostile, &places.containers, only(TrailingComma)),
        row(Hostile, &places.objects, deep),
        row(Hostile, &places.all, garbage),
        row(Hostile, &whole, only(ByteOrderMark)),
        row(Hostile, &whole, cut),
        row(Hostile, &whole, trailing),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn surrogates(place: SurrogatePlace) -> impl Strategy<Value = Change> {
    select(vec![SurrogateHalf::High, SurrogateHalf::Low])
        .prop_map(move |half| LoneSurrogate { half, place }.into())
}

fn duplicates(places: &Places) -> Option<Row> {
    let owned = places.owned();
    if owned.is_empty() {
        return None;
    }
    let position = select(vec![Position::First, Position::Last]);
    let strategy = (select(owned), values(), position)
        .prop_map(|((object, member), value, position)| {
            let change = DuplicateMember {
                member,
                value,
                position,
            };
            Drift::of(object, change)
        })
        .boxed();
    Some(Row {
        class: Hostile,
        strategy,
    })
}

fn of_the_corpus(places: &Places) -> Vec<Row> {
    let mut whole_or_member = vec![String::new()];
    whole_or_member.extend(places.members.iter().cloned());
    let entries = |verdicts: &[CorpusVerdict]| {
        let is_one = |verdict| verdicts.contains(verdict);
        let ids = corpus().iter().filter(|entry| is_one(&entry.verdict));
        select(ids.map(|entry| entry.id.clone()).collect::<Vec<_>>())
    };
    let in_place = |entry| Corpus {
        entry,
        member: None,
    };
    let added = |(entry, member)| Corpus {
        entry,
        member: Some(member),
    };
    let mut rows = Vec::new();
    let sides: [(&[CorpusVerdict], DriftClass, DriftClass); 2] = [
        (&[CorpusVerdict::Accept], Breaking, Compatible),
        (
            &[CorpusVerdict::Reject, CorpusVerdict::May],
            Hostile,
            Hostile,
        ),
    ];
    for (verdicts, class_in_place, class_added) in sides {
        let change = entries(verdicts).prop_map(in_place).prop_map(Change::from);
        rows.extend(row(class_in_place, &whole_or_member, change));
        let change = (entries(verdicts), names())
            .prop_map(added)
            .prop_map(Change::from);
        rows.extend(row(class_added, &places.objects, change));
    }
    rows
}
