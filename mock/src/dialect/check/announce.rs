//! How a host is announced, as written -> checked [`AnnouncePlan`].

use crate::dialect::file::Spanned;
use indexmap::IndexMap;

use super::reader::Reader;
use crate::dialect::announce_plan::{AnnouncePlan, MAX_INSTANCE_BYTES};
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Text};

/// The longest `key=value`, in bytes: its length is one byte (RFC 6763 section 6.1).
const MAX_PAIR_BYTES: usize = 255;

/// The largest TXT record, in bytes: one packet of Ethernet holds it. Larger ones are not recommended
/// (RFC 6763 section 6.2).
const MAX_TXT_BYTES: usize = 1300;

/// Checks how a host is announced.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    raw: &file::Announce,
) -> Result<AnnouncePlan, DialectError> {
    let service = raw.service.get_ref();
    if !service
        .strip_prefix('_')
        .and_then(|rest| rest.strip_suffix("._tcp"))
        .is_some_and(is_service_name)
    {
        let allowed = "a service type `_name._tcp`; the name has 1 to 15 letters, digits and single \
                       hyphens inside, and at least one letter (RFC 6335 section 5.1)";
        return Err(reader.not_allowed("announce.service", &raw.service, allowed, &[]));
    }
    if let Some(instance) = &raw.instance {
        let name = instance.get_ref();
        if name.is_empty() || name.len() > MAX_INSTANCE_BYTES || name.contains(char::is_control) {
            let allowed = "a name of 1 to 63 bytes without control characters (RFC 6763 section \
                           4.1.1)";
            return Err(reader.not_allowed("announce.instance", instance, allowed, &[]));
        }
    }
    check_txt(reader, &raw.txt)?;
    Ok(AnnouncePlan {
        service: service.clone(),
        instance: raw.instance.as_ref().map(|text| text.get_ref().clone()),
        txt: raw
            .txt
            .iter()
            .map(|(key, value)| (key.clone(), value.get_ref().clone()))
            .collect(),
    })
}

/// Tells whether a text is a service name.
///
/// # Source
/// RFC 6335 section 5.1.
fn is_service_name(name: &str) -> bool {
    (1..=15).contains(&name.len())
        && name
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
        && name.bytes().any(|byte| byte.is_ascii_alphabetic())
        && !name.starts_with('-')
        && !name.ends_with('-')
        && !name.contains("--")
}

/// Checks the keys and values.
///
/// # Source
/// RFC 6763 section 6.4 (keys; case does not count), section 6.1 and 6.2 (sizes).
fn check_txt(reader: &Reader<'_>, txt: &IndexMap<String, Text>) -> Result<(), DialectError> {
    let mut total = 0;
    let mut seen: Vec<String> = Vec::new();
    for (key, value) in txt {
        let slip = |value: String, allowed: &str, at: &Spanned<String>| {
            let problem = DialectProblem::NotAllowed {
                value,
                allowed: allowed.to_owned(),
                hint: None,
            };
            reader.error(at.span().start, &format!("announce.txt.{key}"), problem)
        };
        let plain = |byte: u8| matches!(byte, 0x20..=0x7e) && byte != b'=';
        if key.is_empty() || !key.bytes().all(plain) {
            let allowed = "a key: printable ASCII without `=` (RFC 6763 section 6.4)";
            return Err(slip(key.clone(), allowed, value));
        }
        let lower = key.to_ascii_lowercase();
        if seen.contains(&lower) {
            let allowed = "a new key: upper and lower case are one (RFC 6763 section 6.4)";
            return Err(slip(key.clone(), allowed, value));
        }
        seen.push(lower);
        let length = key.len() + 1 + value.get_ref().len();
        total += 1 + length;
        if length > MAX_PAIR_BYTES {
            let allowed = "short enough: key, `=` and value have at most 255 bytes (RFC 6763 \
                           section 6.1)";
            return Err(slip(value.get_ref().clone(), allowed, value));
        }
        if total > MAX_TXT_BYTES {
            let allowed = "to be added: all keys and values have at most 1300 bytes (RFC 6763 \
                           section 6.2)";
            return Err(slip(value.get_ref().clone(), allowed, value));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn service_names_are_those_of_the_registry_procedures() {
        // Source: RFC 6335 section 5.1: examples and rules.
        for good in [
            "a",
            "http",
            "NNTP",
            "3com",
            "coldbed",
            "abc-def-ghi",
            "123456789012abc",
        ] {
            assert!(is_service_name(good), "{good}");
        }
        for bad in [
            "",
            "1",
            "-a",
            "a-",
            "a--b",
            "a_b",
            "a.b",
            "abcdefghijklmnop",
            "\u{e9}a",
        ] {
            assert!(!is_service_name(bad), "{bad}");
        }
    }
}
