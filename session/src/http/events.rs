//! Server-sent events (WHATWG HTML, section 9.2.5), as far as where one ends.

/// Gives the length of the first event with the blank line after it; `None` while it is not whole.
pub fn first_event(bytes: &[u8]) -> Option<usize> {
    let mut line_began = 0;
    let mut at = 0;
    while at < bytes.len() {
        let end = match bytes[at] {
            b'\n' => at + 1,
            // A line feed may still follow; at the very end nobody knows yet.
            b'\r' => match bytes.get(at + 1) {
                Some(b'\n') => at + 2,
                Some(_) => at + 1,
                None => return None,
            },
            _ => {
                at += 1;
                continue;
            }
        };
        if at == line_began {
            return Some(end);
        }
        line_began = end;
        at = end;
    }
    None
}

/// Gives the data of an event: its `data` lines, joined by line feeds; `None` if it has none.
pub fn data(event: &str) -> Option<String> {
    let lines = event.split(['\n', '\r']).filter_map(|line| {
        let value = line.strip_prefix("data")?;
        match value.strip_prefix(':') {
            Some(value) => Some(value.strip_prefix(' ').unwrap_or(value)),
            None => value.is_empty().then_some(""),
        }
    });
    let lines: Vec<&str> = lines.collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_event_ends_with_a_blank_line_of_any_of_the_three_kinds() {
        assert_eq!(first_event(b"data: 1\n\ndata: 2\n\n"), Some(9));
        assert_eq!(first_event(b"data: 1\r\n\r\nrest"), Some(11));
        assert_eq!(first_event(b"data: 1\r\rrest"), Some(9));
        assert_eq!(first_event(b"data: 1\n"), None);
        assert_eq!(first_event(b"data: 1\r\r"), None);
    }

    #[test]
    fn data_is_all_data_lines() {
        assert_eq!(data("event: status\ndata: {\ndata:}\n\n").unwrap(), "{\n}");
        assert_eq!(data(": still there\n\n"), None);
    }
}
