//! How a number is written.

use serde_json::Number;

/// Says how numbers are written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(in crate::drift) enum NumberForm {
    /// As ever.
    #[default]
    Plain,
    /// With an exponent: `1e2`.
    Exponent,
    /// Whole numbers with a decimal point: `21.0`.
    DecimalPoint,
}

impl NumberForm {
    pub(super) fn write(self, number: &Number) -> String {
        let plain = number.to_string();
        match self {
            Self::Plain => plain,
            Self::DecimalPoint if is_whole(&plain) => plain + ".0",
            Self::DecimalPoint => plain,
            Self::Exponent if is_whole(&plain) => whole_with_exponent(&plain),
            // The shortest digits that give the same number again.
            Self::Exponent => number
                .as_f64()
                .map_or(plain, |number| format!("{number:e}")),
        }
    }
}

/// Tells whether a number is written with digits only.
fn is_whole(plain: &str) -> bool {
    !plain.contains(['.', 'e', 'E'])
}

/// Writes with an exponent what may have more digits than a floating-point number.
fn whole_with_exponent(plain: &str) -> String {
    let (sign, digits) = match plain.strip_prefix('-') {
        Some(digits) => ("-", digits),
        None => ("", plain),
    };
    let exponent = digits.len() - 1;
    let (first, rest) = digits.split_at(1);
    let rest = rest.trim_end_matches('0');
    let point = if rest.is_empty() { "" } else { "." };
    format!("{sign}{first}{point}{rest}e{exponent}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(form: NumberForm, number: &str) -> String {
        form.write(&serde_json::from_str(number).unwrap())
    }

    // Source: RFC 8259 section 6, number = [ minus ] int [ frac ] [ exp ].
    #[test]
    fn a_number_is_the_same_in_every_form() {
        for (plain, exponent, point) in [
            ("0", "0e0", "0.0"),
            ("100", "1e2", "100.0"),
            ("-2105", "-2.105e3", "-2105.0"),
            ("21.5", "2.15e1", "21.5"),
            ("0.015", "1.5e-2", "0.015"),
            (
                "18446744073709551615",
                "1.8446744073709551615e19",
                "18446744073709551615.0",
            ),
        ] {
            assert_eq!(written(NumberForm::Plain, plain), plain);
            assert_eq!(written(NumberForm::Exponent, plain), exponent);
            assert_eq!(written(NumberForm::DecimalPoint, plain), point);
        }
    }
}
