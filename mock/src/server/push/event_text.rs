//! Messages as text of an event stream.
//!
//! # Source
//! WHATWG HTML, "Server-sent events": `event`, `id`, `data`, `retry`, comments.

use bytes::Bytes;

use super::follower::Message;
use crate::dialect::EventStreamPlan;

/// A comment, which a client drops.
pub(super) const COMMENT: &str = ": still here\n\n";

/// Writes the reconnection time.
pub(super) fn retry(plan: &EventStreamPlan) -> String {
    format!("retry: {}\n\n", plan.retry.as_millis())
}

/// Gives the event of a message; the same one for all followers, where they are sent the same.
pub(super) fn of(message: &Message, plan: &EventStreamPlan) -> Bytes {
    let entry = message.entry();
    let name = plan.event.as_deref();
    let patch_name = plan.patch_event.as_deref().or(name);
    let write = |name, data: &Bytes| Bytes::from(event(name, entry.id, data));
    match message {
        Message::Full(_) => entry
            .full_event
            .get_or_init(|| write(name, &entry.body))
            .clone(),
        Message::Patch(_, patch) => {
            let event = entry.patch_event.get_or_init(|| write(patch_name, patch));
            event.clone()
        }
        Message::OwnPatch(_, patch) => write(patch_name, patch),
    }
}

/// Writes an event. Every line of the data needs its own field; the client puts LF between them.
fn event(name: Option<&str>, id: u64, data: &[u8]) -> String {
    let mut text = String::with_capacity(data.len() + 64);
    if let Some(name) = name {
        text.push_str(&format!("event: {name}\n"));
    }
    text.push_str(&format!("id: {id}\n"));
    // The stream is UTF-8 whatever the body is.
    let data = String::from_utf8_lossy(data).replace("\r\n", "\n");
    for line in data.split(['\n', '\r']) {
        text.push_str("data: ");
        text.push_str(line);
        text.push('\n');
    }
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_an_event_has_its_own_data_field_whatever_ends_it() {
        assert_eq!(
            event(None, 7, b"{\n}\r\n\rx"),
            "id: 7\ndata: {\ndata: }\ndata: \ndata: x\n\n"
        );
    }

    #[test]
    fn the_name_comes_before_the_data_and_bytes_that_are_not_utf_8_are_replaced() {
        assert_eq!(
            event(Some("printer"), 1, b"\xc3\xa4\xff"),
            "event: printer\nid: 1\ndata: \u{e4}\u{fffd}\n\n"
        );
    }
}
