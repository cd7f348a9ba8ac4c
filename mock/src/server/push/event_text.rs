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

/// Gives the event of a message with the id of another.
pub(super) fn with_id(message: &Message, plan: &EventStreamPlan, id: u64) -> Bytes {
    let name = plan.event.as_deref();
    let name = match message {
        Message::Full(_) => name,
        Message::Patch(..) | Message::OwnPatch(..) => plan.patch_event.as_deref().or(name),
    };
    Bytes::from(event(name, id, message.payload()))
}

/// Writes an event. Every line of the data needs its own field; the client puts LF between them.
///
/// Bytes that are no UTF-8 go out as they are, as from a host that is broken in this way: the standard
/// has the stream decoded as UTF-8, and a client puts U+FFFD for them.
fn event(name: Option<&str>, id: u64, data: &[u8]) -> Vec<u8> {
    let mut text = Vec::with_capacity(data.len() + 64);
    if let Some(name) = name {
        text.extend(format!("event: {name}\n").bytes());
    }
    text.extend(format!("id: {id}\n").bytes());
    for line in lines(data) {
        text.extend(b"data: ");
        text.extend(line);
        text.push(b'\n');
    }
    text.push(b'\n');
    text
}

/// Gives what is between the line ends: LF, CR, or both.
fn lines(data: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = Some(data);
    std::iter::from_fn(move || {
        let text = rest?;
        let end = text.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
        let Some(end) = end else {
            return rest.take();
        };
        let after = &text[end..];
        rest = Some(after.strip_prefix(b"\r\n").unwrap_or(&after[1..]));
        Some(&text[..end])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_an_event_has_its_own_data_field_whatever_ends_it() {
        assert_eq!(
            event(None, 7, b"{\n}\r\n\rx"),
            b"id: 7\ndata: {\ndata: }\ndata: \ndata: x\n\n"
        );
        assert_eq!(event(None, 7, b"\r"), b"id: 7\ndata: \ndata: \n\n");
        assert_eq!(event(None, 7, b""), b"id: 7\ndata: \n\n");
    }

    #[test]
    fn the_name_comes_before_the_data_and_bytes_that_are_not_utf_8_go_out_as_they_are() {
        assert_eq!(
            event(Some("printer"), 1, b"\xc3\xa4\xff"),
            b"event: printer\nid: 1\ndata: \xc3\xa4\xff\n\n"
        );
    }
}
