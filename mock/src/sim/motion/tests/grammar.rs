//! The line grammar, case by case.
//!
//! Source: NISTIR 6556 (NIST RS274/NGC, 2000), format of a line, unless a test names another.

use std::io::Cursor as Bytes;

use super::words_of;
use crate::sim::motion::reader::{
    BareLetters, LineFault, MAX_LINE_CHARACTERS, ProgramReader, ReadError,
};

fn value_of(line: &str, letter: u8) -> f64 {
    let words = words_of(line);
    words
        .iter()
        .find(|word| word.letter == letter)
        .and_then(|word| word.value)
        .unwrap()
}

fn letters_and_values(line: &str) -> Vec<(char, f64)> {
    words_of(line)
        .iter()
        .map(|word| (char::from(word.letter), word.value.unwrap()))
        .collect()
}

fn fault_of(line: &[u8]) -> (u32, LineFault) {
    match ProgramReader::new(Bytes::new(line), BareLetters::Allow).next_block() {
        Err(ReadError::Line(broken)) => (broken.column, broken.fault),
        other => panic!("no line fault but {other:?}"),
    }
}

fn is_same(found: f64, expected: f64) -> bool {
    found.to_bits() == expected.to_bits()
}

#[test]
fn blanks_mean_nothing_even_within_numbers() {
    assert!(is_same(value_of("X+0. 12 34", b'X'), 0.1234));
    // The report's own example.
    assert_eq!(
        letters_and_values("g0x +0. 12 34y 7"),
        letters_and_values("g0 x+0.1234 y7")
    );
    assert_eq!(
        letters_and_values("g0x +0. 12 34y 7"),
        [('G', 0.0), ('X', 0.1234), ('Y', 7.0)]
    );
}

#[test]
fn numbers_need_no_digit_before_or_after_the_point() {
    assert!(is_same(value_of("X.5", b'X'), 0.5));
    assert!(is_same(value_of("X5.", b'X'), 5.0));
    assert!(is_same(value_of("X+.5", b'X'), 0.5));
    assert!(is_same(value_of("X-0", b'X'), -0.0));
}

#[test]
fn line_numbers_have_one_to_five_digits_and_leading_zeros_count() {
    let number = |line: &str| {
        ProgramReader::new(Bytes::new(line.to_owned()), BareLetters::Allow)
            .next_block()
            .unwrap()
            .unwrap()
            .number
    };
    assert_eq!(number("N00001 G1"), Some(1));
    assert_eq!(number("N99999 G1"), Some(99_999));
    assert_eq!(number("n 1 2 G1"), Some(12));
    assert_eq!(fault_of(b"N000009 G1"), (7, LineFault::LineNumberTooLong));
    assert_eq!(fault_of(b"N G1"), (1, LineFault::LineNumberMissing));
    assert_eq!(fault_of(b"N-1 G1"), (1, LineFault::LineNumberMissing));
    assert_eq!(fault_of(b"N1.5 G1"), (3, LineFault::Unexpected(b'.')));
    assert_eq!(fault_of(b"G1 N5"), (4, LineFault::LineNumberLate));
}

#[test]
fn line_numbers_may_repeat_and_fall() {
    let text = "N10 G1\nN10 G1\nN5 G1\n";
    let mut reader = ProgramReader::new(Bytes::new(text), BareLetters::Allow);
    let mut numbers = Vec::new();
    while let Some(block) = reader.next_block().unwrap() {
        numbers.push(block.number);
    }
    assert_eq!(numbers, [Some(10), Some(10), Some(5)]);
}

#[test]
fn block_delete_stands_before_the_line_number() {
    let mut reader = ProgramReader::new(Bytes::new("/N10 G1\n / G1\nG1\n"), BareLetters::Allow);
    let mut next = || {
        reader
            .next_block()
            .unwrap()
            .map(|block| (block.optional, block.number))
            .unwrap()
    };
    assert_eq!(
        [next(), next(), next()],
        [(true, Some(10)), (true, None), (false, None)]
    );
    assert_eq!(fault_of(b"N10 / G1"), (5, LineFault::Unexpected(b'/')));
}

#[test]
fn a_code_is_its_number_however_written() {
    for line in ["g01", "G1", "G 0 1", "G1.0", "G+1"] {
        assert_eq!(letters_and_values(line), [('G', 1.0)], "{line:?}");
    }
}

#[test]
fn there_are_no_exponents_so_e_starts_the_next_word() {
    assert_eq!(letters_and_values("X1e3"), [('X', 1.0), ('E', 3.0)]);
}

#[test]
fn comments_stand_anywhere_between_words_and_hold_any_printable_character() {
    assert_eq!(words_of("()"), []);
    assert_eq!(
        letters_and_values("G1()X2(a ; b, 100%\t/N1)Y3"),
        [('G', 1.0), ('X', 2.0), ('Y', 3.0)]
    );
    assert_eq!(
        letters_and_values("G1 (Grüße) X2"),
        [('G', 1.0), ('X', 2.0)]
    );
    assert_eq!(fault_of(b"G1 (a (b) c)"), (7, LineFault::CommentNested));
    assert_eq!(fault_of(b"G1 (open"), (4, LineFault::CommentOpen));
    assert_eq!(
        fault_of(b"G1 (a\x07)"),
        (6, LineFault::CommentUnprintable(7))
    );
    assert_eq!(fault_of(b"G1 )"), (4, LineFault::Unexpected(b')')));
}

// Common practice, not in the report.
#[test]
fn a_semicolon_starts_a_comment_to_the_end_of_the_line() {
    assert_eq!(
        letters_and_values("G1 X2 ; Y3 (open"),
        [('G', 1.0), ('X', 2.0)]
    );
    assert_eq!(words_of("; \u{1}\u{ff} anything"), []);
}

#[test]
fn a_line_may_have_256_characters_and_no_more() {
    let line = |length: usize| format!("G1{}X5", " ".repeat(length - 4));
    for end in ["", "\n", "\r\n"] {
        let text = line(MAX_LINE_CHARACTERS) + end;
        assert_eq!(text.len() - end.len(), 256);
        assert_eq!(letters_and_values(&text), [('G', 1.0), ('X', 5.0)]);
        assert_eq!(
            fault_of((line(257) + end).as_bytes()),
            (257, LineFault::TooLong)
        );
    }
    let endless = [vec![b'G'; 1_000_000], b"\nG1\n".to_vec()].concat();
    assert_eq!(fault_of(&endless), (257, LineFault::TooLong));
    let mut reader = ProgramReader::new(Bytes::new(endless), BareLetters::Allow);
    assert!(reader.next_block().is_err());
    let after = reader.next_block().unwrap().unwrap();
    assert_eq!(
        (after.line, after.start_byte, after.end_byte),
        (2, 1_000_001, 1_000_004)
    );
}

#[test]
fn a_semicolon_comment_does_not_count_towards_the_length() {
    let long = "x".repeat(10_000);
    assert_eq!(letters_and_values(&format!("G1;{long}")), [('G', 1.0)]);
    let full = format!("G1{}X5;{long}", " ".repeat(252));
    assert_eq!(letters_and_values(&full), [('G', 1.0), ('X', 5.0)]);
    // Within a bracketed comment a semicolon is text, and that comment counts.
    assert_eq!(
        fault_of(format!("G1 (;{long})").as_bytes()),
        (257, LineFault::TooLong)
    );
}

#[test]
fn blank_lines_are_read_over_and_counted() {
    let mut reader = ProgramReader::new(Bytes::new("\n  \t\r\n(note)\nG1\n"), BareLetters::Allow);
    let block = reader.next_block().unwrap().unwrap();
    assert_eq!((block.line, block.start_byte, block.end_byte), (4, 13, 16));
}

#[test]
fn the_last_line_needs_no_end() {
    let mut reader = ProgramReader::new(Bytes::new("G1\nG0"), BareLetters::Allow);
    assert_eq!(
        reader.next_block().unwrap().map(|block| block.end_byte),
        Some(3)
    );
    assert_eq!(
        reader.next_block().unwrap().map(|block| block.end_byte),
        Some(5)
    );
    assert_eq!(reader.next_block().unwrap(), None);
}

// NISTIR 6556 (from memory): percent signs may mark both ends; what follows the second is not read.
#[test]
fn a_percent_sign_first_starts_and_later_ends_the_program() {
    let mut reader = ProgramReader::new(Bytes::new("\n % \nG1\n%\nG0\n"), BareLetters::Allow);
    assert_eq!(
        reader.next_block().unwrap().map(|block| block.line),
        Some(3)
    );
    assert_eq!(reader.next_block().unwrap(), None);
    assert_eq!(reader.lines_read(), 4);
    let mut unopened = ProgramReader::new(Bytes::new("G1\n%\nG0\n"), BareLetters::Allow);
    assert_eq!(
        unopened.next_block().unwrap().map(|block| block.line),
        Some(1)
    );
    assert_eq!(unopened.next_block().unwrap(), None);
    assert_eq!(fault_of(b"% G1"), (3, LineFault::Unexpected(b'G')));
}

#[test]
fn anything_else_is_a_fault_where_it_stands() {
    assert_eq!(fault_of(b"G1 X-"), (4, LineFault::NoDigit { letter: b'X' }));
    assert_eq!(fault_of(b"G1 X1..2"), (7, LineFault::Unexpected(b'.')));
    assert_eq!(fault_of(b"G1 X1 *71"), (7, LineFault::Unexpected(b'*')));
    assert_eq!(fault_of(b"G1 X\0"), (5, LineFault::Unexpected(0)));
    assert_eq!(fault_of(b"G1 X#3"), (5, LineFault::Expression(b'#')));
    assert_eq!(fault_of(b"G1 X[1+2]"), (5, LineFault::Expression(b'[')));
    assert_eq!(fault_of(b"#3=15"), (1, LineFault::Expression(b'#')));
    assert_eq!(
        fault_of(b"G1 X1 y2 x3"),
        (10, LineFault::LetterTwice { letter: b'X' })
    );
    assert_eq!(fault_of(b"G"), (1, LineFault::NoNumber { letter: b'G' }));
    assert_eq!(fault_of(b"G1\rX1"), (3, LineFault::Unexpected(b'\r')));
}

#[test]
fn four_m_words_share_a_line_and_five_do_not() {
    assert_eq!(words_of("M82 M84 M107 M0").len(), 4);
    assert_eq!(
        fault_of(b"M82 M84 M107 M0 M1"),
        (17, LineFault::TooManyMWords)
    );
}

// Common practice: `G28 X` names an axis. The report wants a number after every letter.
#[test]
fn a_letter_without_a_number_is_let_through_unless_refused() {
    let values: Vec<_> = words_of("G28 X Y").iter().map(|word| word.value).collect();
    assert_eq!(values, [Some(28.0), None, None]);
    let mut reader = ProgramReader::new(Bytes::new("G28 X Y"), BareLetters::Refuse);
    let refused = reader.next_block();
    assert!(
        matches!(refused, Err(ReadError::Line(broken)) if broken.fault == LineFault::NoNumber { letter: b'X' })
    );
}

#[test]
fn reading_goes_on_after_a_broken_line() {
    let mut reader = ProgramReader::new(Bytes::new("G1 X-\nG1 X2\n"), BareLetters::Allow);
    assert!(reader.next_block().is_err());
    assert_eq!(
        reader.next_block().unwrap().map(|block| block.line),
        Some(2)
    );
}
