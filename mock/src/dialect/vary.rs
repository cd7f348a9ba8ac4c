//! The `Vary` field.

use http::header::VARY;
use http::{HeaderMap, HeaderName, HeaderValue};

/// Adds a field's name to `Vary`, unless it is there or everything is (`*`).
///
/// # Source
/// RFC 9110 section 12.5.5.
pub(super) fn add(headers: &mut HeaderMap, name: &HeaderName) {
    let there = headers.get_all(VARY).iter().any(|list| {
        list.as_bytes().split(|byte| *byte == b',').any(|element| {
            let element = element.trim_ascii();
            element == b"*" || element.eq_ignore_ascii_case(name.as_str().as_bytes())
        })
    });
    if !there {
        headers.append(VARY, HeaderValue::from(name.clone()));
    }
}

#[cfg(test)]
mod tests {
    use http::header::ORIGIN;

    use super::*;

    #[test]
    fn a_name_is_added_once_and_to_a_star_never() {
        for (before, after) in [
            (&[][..], &["origin"][..]),
            (&["accept"], &["accept", "origin"]),
            (&["Accept, Origin"], &["Accept, Origin"]),
            (&["*"], &["*"]),
        ] {
            let mut headers = HeaderMap::new();
            for value in before {
                headers.append(VARY, HeaderValue::from_static(value));
            }
            add(&mut headers, &ORIGIN);
            let values: Vec<_> = headers.get_all(VARY).iter().collect();
            assert_eq!(values, after);
        }
    }
}
