//! One change of each kind, with the class it suggests.

use serde_json::json;

use super::*;
use DriftClass::{Breaking, Compatible, Hostile};

pub(super) fn samples() -> Vec<(Change, DriftClass)> {
    let mut samples = shapes();
    samples.extend(spellings());
    samples.extend(forms());
    samples
}

pub(super) fn forms() -> Vec<(Change, DriftClass)> {
    let case = FieldCase::Upper;
    vec![
        (Chunked.into(), Compatible),
        (FieldNames { case }.into(), Compatible),
        (Gzip.into(), Compatible),
    ]
}

pub(super) fn shapes() -> Vec<(Change, DriftClass)> {
    let member = || "extra".to_owned();
    let value = || json!([1]);
    vec![
        (
            AddMember {
                member: member(),
                value: value(),
            }
            .into(),
            Compatible,
        ),
        (AppendElement { value: value() }.into(), Compatible),
        (
            DeepenUnknown {
                member: member(),
                levels: 3,
            }
            .into(),
            Compatible,
        ),
        (
            MoveMember {
                to: "/extra".to_owned(),
            }
            .into(),
            Breaking,
        ),
        (NumberAsText.into(), Breaking),
        (ObjectAsArray.into(), Breaking),
        (
            Pad {
                member: member(),
                bytes: 5,
            }
            .into(),
            Compatible,
        ),
        (
            Pad {
                member: member(),
                bytes: 65_537,
            }
            .into(),
            Hostile,
        ),
        (PrependElement { value: value() }.into(), Breaking),
        (RemoveMember.into(), Breaking),
        (RenameMember { to: member() }.into(), Breaking),
        (ReplaceByNull.into(), Breaking),
        (ReplaceValue { value: value() }.into(), Breaking),
        (ReverseMembers.into(), Compatible),
        (
            Scale {
                factor: 1.8,
                offset: 32.0,
            }
            .into(),
            Breaking,
        ),
        (SortMembers.into(), Compatible),
        (TextAsNumber.into(), Breaking),
        (ValueAsObject { member: member() }.into(), Breaking),
    ]
}

pub(super) fn spellings() -> Vec<(Change, DriftClass)> {
    let mut samples = same_json();
    samples.extend(no_json());
    samples.extend(may_vary());
    samples.push((
        Garbage {
            text: "[null]".to_owned(),
        }
        .into(),
        Breaking,
    ));
    samples.push((EmptyBody.into(), Breaking));
    for (entry, member, class) in [
        ("object-empty", None, Breaking),
        ("object-empty", Some("extra"), Compatible),
        ("object-name-twice", None, Hostile),
        ("object-name-twice", Some("extra"), Hostile),
    ] {
        let change = Corpus {
            entry: entry.to_owned(),
            member: member.map(str::to_owned),
        };
        samples.push((change.into(), class));
    }
    samples
}

/// Gives spellings that say the same.
///
/// # Source
/// RFC 8259 sections 2 (white space), 6 (numbers) and 7 (escapes).
pub(super) fn same_json() -> Vec<(Change, DriftClass)> {
    let blanks = [
        Blank::Space,
        Blank::Tab,
        Blank::LineFeed,
        Blank::CarriageReturn,
    ];
    let mut samples: Vec<(Change, DriftClass)> = vec![
        (Indented { spaces: 0 }.into(), Compatible),
        (Indented { spaces: 3 }.into(), Compatible),
        (EscapedNames.into(), Compatible),
        (NonAsciiEscaped.into(), Compatible),
        (ExponentNumbers.into(), Compatible),
        (DecimalPoint.into(), Compatible),
        (
            TrailingText {
                text: " \t\r\n".to_owned(),
            }
            .into(),
            Compatible,
        ),
    ];
    samples.extend(blanks.map(|blank| (Spaced { blank }.into(), Compatible)));
    samples
}

/// Gives spellings that are no JSON, wherever they fit a body that is an object or an array.
///
/// # Source
/// RFC 8259 sections 2 (one value), 4 and 5 (commas), 6 (no NaN, no leading zero), 8.1 (UTF-8).
pub(super) fn no_json() -> Vec<(Change, DriftClass)> {
    let mut samples: Vec<(Change, DriftClass)> = vec![
        (InvalidUtf8.into(), Hostile),
        (NotANumber.into(), Hostile),
        (TrailingComma.into(), Hostile),
        (Truncated { bytes: 1 }.into(), Hostile),
    ];
    let texts = [
        "021",
        "+1",
        ".5",
        "1.",
        "Infinity",
        "<p>no</p>",
        "'a'",
        "True",
        "[1",
    ];
    samples.extend(texts.map(|text| {
        let text = text.to_owned();
        (Garbage { text }.into(), Hostile)
    }));
    for entry in ["array-trailing-comma", "utf-8-cut-of-three"] {
        for member in [None, Some("extra".to_owned())] {
            let entry = entry.to_owned();
            samples.push((Corpus { entry, member }.into(), Hostile));
        }
    }
    samples.extend(["x", "\n{}", "]", "\u{a0}"].map(|text| {
        let text = text.to_owned();
        (TrailingText { text }.into(), Hostile)
    }));
    samples
}

/// Gives spellings that a parser may take or refuse.
///
/// # Source
/// RFC 8259: section 8.1, a byte order mark may be ignored; section 9, a limit on depth may be
/// set; section 4, repeated names are unpredictable; section 6, a limit on range and precision may
/// be set; section 8.2, lone surrogates are unpredictable.
pub(super) fn may_vary() -> Vec<(Change, DriftClass)> {
    let mut samples: Vec<(Change, DriftClass)> = vec![
        (ByteOrderMark.into(), Hostile),
        (
            Deep {
                member: "extra".to_owned(),
                levels: 10_000,
            }
            .into(),
            Hostile,
        ),
    ];
    for half in [SurrogateHalf::High, SurrogateHalf::Low] {
        for place in [SurrogatePlace::Text, SurrogatePlace::Name] {
            samples.push((LoneSurrogate { half, place }.into(), Hostile));
        }
    }
    for position in [Position::First, Position::Last] {
        let change = DuplicateMember {
            member: "a".to_owned(),
            value: json!(0),
            position,
        };
        samples.push((change.into(), Hostile));
    }
    for text in ["9007199254740993", "1e400"] {
        let text = text.to_owned();
        samples.push((HugeNumber { text }.into(), Hostile));
    }
    samples
}
