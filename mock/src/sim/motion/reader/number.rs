//! Reads a decimal number that may have spaces anywhere within.

/// Powers of ten that a double holds exactly.
const POWERS_OF_TEN: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// Whole numbers up to this are exact in a double.
const EXACT_WHOLE: u64 = 1 << 53;

/// Tells what stands at a place where a number may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Number {
    /// No sign, point or digit there.
    Absent,
    /// A sign or point, and no digit with it.
    NoDigit,
    /// A number, and the index of the first byte after it and the blanks behind it.
    Value(f64, usize),
}

/// Tells whether the byte means nothing outside comments.
pub(super) const fn is_blank(byte: u8) -> bool {
    byte == b' ' || byte == b'\t'
}

/// Reads an optional sign, digits and an optional point from `text[at..]`, blanks anywhere. No exponent: the letter
/// `e` starts the next word.
pub(super) fn read_number(text: &[u8], at: usize) -> Number {
    let (mut index, mut digits, mut fraction_digits) = (at, 0_usize, 0_usize);
    let (mut whole, mut exact, mut negative, mut point) = (0_u64, true, false, false);
    let mut signed = false;
    while let Some(&byte) = text.get(index) {
        match byte {
            b'0'..=b'9' => {
                digits += 1;
                fraction_digits += usize::from(point);
                // Once inexact the digits are parsed again below, so the wrapped value is never used.
                exact &= whole < EXACT_WHOLE / 16;
                whole = whole.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
            }
            b'.' if !point => point = true,
            b'+' | b'-' if digits == 0 && !point && !signed => {
                signed = true;
                negative = byte == b'-';
            }
            _ if is_blank(byte) => {}
            _ => break,
        }
        index += 1;
    }
    if digits == 0 {
        return if signed || point {
            Number::NoDigit
        } else {
            Number::Absent
        };
    }
    let size = match POWERS_OF_TEN.get(fraction_digits) {
        // Both exact, so one division rounds correctly (Clinger, "How to read floating point numbers accurately").
        #[expect(clippy::cast_precision_loss, reason = "whole is below 2^53 here")]
        Some(power) if exact => whole as f64 / power,
        _ => read_digits_slowly(&text[at..index]),
    };
    Number::Value(if negative { -size } else { size }, index)
}

fn read_digits_slowly(text: &[u8]) -> f64 {
    let digits: String = text
        .iter()
        .filter(|b| b.is_ascii_digit() || **b == b'.')
        .map(|b| char::from(*b))
        .collect();
    // Digits with at most one point always parse; the caller has counted at least one digit.
    digits.parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn value(text: &str) -> f64 {
        match read_number(text.as_bytes(), 0) {
            Number::Value(value, end) => {
                assert_eq!(end, text.len(), "all of {text:?} is the number");
                value
            }
            other => panic!("{text:?} gave {other:?}"),
        }
    }

    #[test]
    fn stops_before_a_second_point_and_before_a_second_sign() {
        assert_eq!(read_number(b"1.2.3", 0), Number::Value(1.2, 3));
        assert_eq!(read_number(b"1-2", 0), Number::Value(1.0, 1));
        assert_eq!(read_number(b"+-1", 0), Number::NoDigit);
    }

    #[test]
    fn sign_or_point_alone_is_no_number() {
        for text in ["+", "-", ".", "-.", "+ ."] {
            assert_eq!(read_number(text.as_bytes(), 0), Number::NoDigit, "{text:?}");
        }
        assert_eq!(read_number(b"", 0), Number::Absent);
        assert_eq!(read_number(b"  Y", 0), Number::Absent);
    }

    #[test]
    fn minus_zero_keeps_its_sign_and_equals_zero() {
        assert!(value("-0") == 0.0 && value("-0").is_sign_negative());
    }

    #[test]
    fn more_digits_than_a_double_holds_are_rounded_once() {
        // Rounding the digits first and dividing then would give another last bit.
        let text = "97257876514.7237606";
        assert_eq!(
            value(text).to_bits(),
            text.parse::<f64>().unwrap().to_bits()
        );
    }

    proptest! {
        // Reference: the standard library's correctly rounded decimal parser.
        #[test]
        fn agrees_bit_for_bit_with_the_standard_library(text in "[+-]?[0-9]{1,25}(\\.[0-9]{0,25})?") {
            let expected: f64 = text.parse().unwrap();
            prop_assert_eq!(value(&text).to_bits(), expected.to_bits());
        }

        #[test]
        fn blanks_within_change_nothing(text in "[+-]?[0-9]{1,6}\\.[0-9]{0,6}", gap in "[ \t]{1,3}") {
            let spread: String = text.chars().flat_map(|c| gap.chars().chain([c])).collect();
            prop_assert_eq!(value(&spread).to_bits(), value(&text).to_bits());
        }
    }
}
