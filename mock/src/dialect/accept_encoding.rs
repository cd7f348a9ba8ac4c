//! Reads which content codings a client takes.

use http::HeaderMap;
use http::header::ACCEPT_ENCODING;

/// Is a weight in thousandths: 0 refuses, 1000 is the default.
type Weight = u16;

/// Tells whether a client asks for gzip: it takes it, and likes it no less than no coding.
///
/// Without the field nothing is asked for. What is malformed is as if it were not there.
///
/// # Source
/// RFC 9110 section 12.5.3 (`*` stands for what is not named; identity is taken unless refused),
/// section 12.4.2 (weights), section 8.4.1.3 (`x-gzip` is gzip).
pub(super) fn asks_for_gzip(request: &HeaderMap) -> bool {
    let (mut gzip, mut identity, mut any) = (None, None, None);
    for field in request.get_all(ACCEPT_ENCODING) {
        for element in field.as_bytes().split(|byte| *byte == b',') {
            let Some((coding, weight)) = std::str::from_utf8(element).ok().and_then(element_of)
            else {
                continue;
            };
            let known = match coding.to_ascii_lowercase().as_str() {
                "gzip" | "x-gzip" => &mut gzip,
                "identity" => &mut identity,
                "*" => &mut any,
                _ => continue,
            };
            *known = (*known).max(Some(weight));
        }
    }
    let gzip = gzip.or(any).unwrap_or(0);
    gzip > 0 && gzip >= identity.or(any).unwrap_or(0)
}

fn element_of(element: &str) -> Option<(&str, Weight)> {
    let Some((coding, parameter)) = element.split_once(';') else {
        return Some((element.trim(), 1000));
    };
    let (name, value) = parameter.split_once('=')?;
    if !name.trim().eq_ignore_ascii_case("q") {
        return None;
    }
    Some((coding.trim(), weight(value.trim())?))
}

/// Reads `0`, `0.5`, `1.000`: at most three digits after the point.
fn weight(text: &str) -> Option<Weight> {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
    if decimals.len() > 3 || !decimals.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let thousandths: Weight = format!("{decimals:0<3}").parse().ok()?;
    match (whole, thousandths) {
        ("0", thousandths) => Some(thousandths),
        ("1", 0) => Some(1000),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use http::HeaderValue;
    use proptest::prelude::*;

    use super::*;

    fn asks(fields: &[&str]) -> bool {
        let mut request = HeaderMap::new();
        for field in fields {
            request.append(ACCEPT_ENCODING, HeaderValue::from_str(field).unwrap());
        }
        asks_for_gzip(&request)
    }

    #[test]
    fn gzip_is_asked_for_by_name_or_by_star_rfc_9110_s12_5_3() {
        for field in [
            "gzip",
            "GZip",
            "x-gzip",
            "deflate, gzip",
            "gzip;q=0.001",
            "gzip ; Q=1.000",
            "*",
            "identity;q=0.5, *;q=0.5",
            "identity;q=0, gzip;q=0.1",
            // The examples of the section.
            "compress, gzip",
            "compress;q=0.5, gzip;q=1.0",
            "gzip;q=1.0, identity; q=0.5, *;q=0",
        ] {
            assert!(asks(&[field]), "{field}");
        }
        assert!(asks(&["br", "gzip"]), "two fields are one list");
    }

    #[test]
    fn gzip_is_not_forced_on_a_client_that_refuses_it_or_likes_it_less() {
        assert!(!asks(&[]), "no field");
        for field in [
            "",
            "deflate, br",
            "gzip;q=0",
            "gzip;q=0.000",
            "gzip;q=0, *",
            "*;q=0",
            "identity",
            "identity, gzip;q=0.5",
            "identity, *;q=0.9",
            "gzip;q=2",
            "gzip;q=0.1234",
            "gzip;q=",
            "gzip;level=9",
            "gzipp",
        ] {
            assert!(!asks(&[field]), "{field}");
        }
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_without_a_panic(bytes in "[ -~]{0,40}") {
            let _ = asks(&[&bytes]);
        }

        #[test]
        fn a_weight_of_three_digits_is_its_thousandths(thousandths in 0u16..1000) {
            prop_assert_eq!(weight(&format!("0.{thousandths:03}")), Some(thousandths));
        }
    }
}
