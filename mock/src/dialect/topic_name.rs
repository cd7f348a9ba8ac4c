//! What a message may be called.

/// The longest topic name, in bytes of UTF-8.
///
/// # Source
/// OASIS MQTT 3.1.1 and 5.0, section 4.7.3.
const MAX_BYTES: usize = 65_535;

/// Says why a text is no topic name that a client may publish to, if it is not, in words that follow
/// "is not".
///
/// # Source
/// OASIS MQTT 3.1.1 and 5.0: section 4.7.1 (wildcards stand in filters only), section 4.7.2 (`$` at
/// the beginning is the broker's), section 4.7.3 (length, U+0000), section 1.5.3 (3.1.1) and 1.5.4
/// (5.0): a broker may close the connection over a control character.
pub(super) fn fault(topic: &str) -> Option<&'static str> {
    if topic.is_empty() {
        Some("a topic: it has at least one character (MQTT 3.1.1 section 4.7.3)")
    } else if topic.len() > MAX_BYTES {
        Some("a topic: it has at most 65535 bytes (MQTT 3.1.1 section 4.7.3)")
    } else if topic.contains(['+', '#']) {
        Some("a topic to publish to: `+` and `#` are wildcards (MQTT 3.1.1 section 4.7.1)")
    } else if topic.starts_with('$') {
        Some("a topic for clients: `$` at the beginning is the broker's (MQTT 3.1.1 section 4.7.2)")
    } else if topic.contains(char::is_control) {
        Some("a topic: it has no control characters (MQTT 3.1.1 section 1.5.3)")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_the_standard_lets_a_client_publish_to_is_a_topic() {
        // Source: OASIS MQTT 3.1.1 section 4.7.1.1, 4.7.3: examples and notes.
        for good in [
            "sport/tennis/player1",
            "/finance",
            "/",
            "a b",
            "a//b",
            "Accounts payable",
            "a$",
            "\u{e9}",
        ] {
            assert_eq!(fault(good), None, "{good:?}");
        }
        assert_eq!(fault(&"x".repeat(65_535)), None);
        for bad in [
            "", "#", "sport/#", "+", "sport/+", "a+", "$SYS/x", "a\0", "a\nb",
        ] {
            assert!(fault(bad).is_some(), "{bad:?}");
        }
        assert!(fault(&"x".repeat(65_536)).is_some());
    }

    proptest! {
        #[test]
        fn no_topic_has_a_wildcard_or_a_null(topic in "[a-z+#$/\0]{0,12}") {
            let refused = topic.is_empty() || topic.contains(['+', '#', '\0']) || topic.starts_with('$');
            prop_assert_eq!(fault(&topic).is_some(), refused);
        }
    }
}
