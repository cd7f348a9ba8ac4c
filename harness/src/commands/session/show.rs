//! A session as text. Pure.

use std::fmt::Write as _;
use std::time::Duration;

use coldbed_session::{Answer, Body, Content, Exchange, Framing, Outcome, Pushed, Session};
use textwrap::core::display_width;

/// Gives the exchanges as a table.
pub(super) fn table(session: &Session, width: usize) -> String {
    let mut text = head(session);
    let _ = writeln!(
        text,
        "{:>5} {:>11} {:>4}  {:<22} {:>9} {:>9} {:>8}  request",
        "", "at", "conn", "outcome", "first", "end", "bytes"
    );
    for exchange in &session.exchanges {
        let (first, end) = timing(exchange);
        let request = format!("{} {}", exchange.request.method, exchange.request.target);
        let line = format!(
            "{:>5} {:>11} {:>4}  {:<22} {:>9} {:>9} {:>8}  {request}",
            exchange.number,
            clock(exchange.request.at),
            exchange.connection,
            outcome(exchange),
            first.map_or_else(String::new, short),
            end.map_or_else(String::new, short),
            size(exchange).map_or_else(String::new, |bytes| bytes.to_string()),
        );
        text.push_str(&cut(&line, width));
        text.push('\n');
    }
    text
}

fn head(session: &Session) -> String {
    let of = session.upstream.as_deref().unwrap_or("an unknown host");
    let at = session
        .recorded_at
        .as_deref()
        .map_or_else(String::new, |at| format!(", recorded {at}"));
    format!(
        "{of}{at}: {} exchanges on {} connections in {}\n\n",
        session.exchanges.len(),
        session.connections.len(),
        clock(session.length()),
    )
}

/// Gives connections and exchanges over time: a row each, a column for each share of the time.
pub(super) fn timeline(session: &Session, width: usize) -> String {
    const LABEL: usize = 16;
    let mut text = head(session);
    let length = session.length().max(Duration::from_micros(1));
    let columns = width.saturating_sub(LABEL + 1).max(20);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a column"
    )]
    let column = |at: Duration| {
        let share = at.as_secs_f64() / length.as_secs_f64();
        ((share * columns as f64) as usize).min(columns - 1)
    };
    for connection in &session.connections {
        let mut row = vec![' '; columns];
        let closed = connection.closed.map_or(length, |(at, _, _)| at);
        row[column(connection.opened)..=column(closed)].fill('-');
        for exchange in session
            .exchanges
            .iter()
            .filter(|exchange| exchange.connection == connection.number)
        {
            let (from, to) = (column(exchange.request.at), column(exchange.last_moment()));
            row[from..=to].fill('=');
            row[to] = mark(exchange);
        }
        if let Some((at, _, true)) = connection.closed {
            row[column(at)] = 'R';
        }
        let row: String = row.into_iter().collect();
        let _ = writeln!(
            text,
            "{:<LABEL$} {}",
            format!("connection {}", connection.number),
            row.trim_end()
        );
    }
    let end = clock(length);
    let _ = writeln!(text, "{:<LABEL$} 0{end:>rest$}", "", rest = columns - 1);
    text.push_str("\n- open, = exchange, o whole, ! none or cut, R reset\n");
    text
}

fn mark(exchange: &Exchange) -> char {
    match exchange.outcome.as_ref().and_then(Outcome::end) {
        Some(coldbed_session::End::Complete) => 'o',
        _ => '!',
    }
}

/// Gives one exchange in full.
pub(super) fn exchange(exchange: &Exchange) -> String {
    let request = &exchange.request;
    let mut text = format!(
        "exchange {} on connection {}, {} after the beginning\n\n{} {} {}\n",
        exchange.number,
        exchange.connection,
        clock(request.at),
        request.method,
        request.target,
        request.version.name(),
    );
    fields(&mut text, &request.fields);
    body(&mut text, &request.body);
    text.push('\n');
    match &exchange.outcome {
        None => text.push_str("no answer until the recording ended\n"),
        Some(Outcome::NoAnswer { at, end, received }) => {
            let after = short(at.saturating_sub(request.at));
            let _ = writeln!(text, "no answer: {} after {after}", word(*end));
            body(&mut text, received);
        }
        Some(Outcome::Answered(answer)) => answered(&mut text, exchange, answer),
    }
    text
}

fn answered(text: &mut String, exchange: &Exchange, answer: &Answer) {
    let _ = writeln!(
        text,
        "{} {} {}",
        answer.version.name(),
        answer.status,
        answer.reason
    );
    fields(text, &answer.fields);
    match &answer.content {
        Content::Whole {
            body: content,
            pieces,
            raw,
            chunks,
        } => {
            body(text, content);
            text.push('\n');
            for piece in pieces {
                let _ = writeln!(
                    text,
                    "{:>9}  {} bytes",
                    short(piece.after_seconds),
                    piece.bytes
                );
            }
            if answer.framing == Framing::Chunked {
                let _ = writeln!(text, "chunks of {chunks:?} bytes");
            }
            if raw.is_some() {
                text.push_str("its bytes are other than usual and kept as they were\n");
            }
        }
        Content::Stream { pushed, .. } => {
            for (at, pushed) in pushed {
                let after = short(at.saturating_sub(exchange.request.at));
                let (what, content) = match pushed {
                    Pushed::Bytes(body) => ("pushed".to_owned(), body),
                    Pushed::Frame(frame) => (
                        format!("{:?} {:?}", frame.from, frame.kind).to_lowercase(),
                        &frame.body,
                    ),
                };
                let _ = writeln!(text, "\n{after:>9}  {what}");
                body(text, content);
            }
            text.push('\n');
        }
    }
    let (_, end) = timing(exchange);
    let end = end.map_or_else(String::new, |end| format!(" after {}", short(end)));
    let how = answer
        .ended
        .map_or("goes on until the recording ended", |(_, end)| word(end));
    let _ = writeln!(text, "{how}{end}");
}

fn fields(text: &mut String, fields: &[(String, String)]) {
    for (name, value) in fields {
        let _ = writeln!(text, "{name}: {value}");
    }
}

fn body(text: &mut String, body: &Body) {
    match body {
        body if body.is_empty() => {}
        Body::Text(content) => {
            let pretty = serde_json::from_str::<serde_json::Value>(content)
                .map(|value| format!("{value:#}"));
            let shown = pretty.unwrap_or_else(|_| content.trim_end().to_owned());
            let _ = writeln!(text, "\n{}", visible(&shown));
        }
        Body::Base64(bytes) => {
            let _ = writeln!(text, "\n({} bytes that are no text)", bytes.len());
        }
        Body::Withheld(withheld) => {
            let _ = writeln!(
                text,
                "\n({} bytes withheld: {})",
                withheld.bytes, withheld.reason
            );
        }
    }
}

/// What a host sends must not steer the terminal.
fn visible(text: &str) -> String {
    let shown = |sign: char| match sign {
        '\n' | '\t' => sign.to_string(),
        sign if sign.is_control() => sign.escape_unicode().to_string(),
        sign => sign.to_string(),
    };
    text.chars().map(shown).collect()
}

fn outcome(exchange: &Exchange) -> String {
    match &exchange.outcome {
        None => "none".to_owned(),
        Some(Outcome::NoAnswer { end, .. }) => word(*end).to_owned(),
        Some(Outcome::Answered(answer)) => match answer.ended {
            Some((_, coldbed_session::End::Complete)) => answer.status.to_string(),
            Some((_, end)) => format!("{} {}", answer.status, word(end)),
            None => format!("{} goes on", answer.status),
        },
    }
}

fn word(end: coldbed_session::End) -> &'static str {
    use coldbed_session::End;
    match end {
        End::Complete => "complete",
        End::Closed => "closed by the host",
        End::Reset => "reset by the host",
        End::WatcherLeft => "watcher left",
        End::Refused => "refused",
        End::Unreachable => "unreachable",
        End::TimedOut => "timed out",
        End::NotPassedOn => "not passed on",
        End::NotHttp => "no HTTP",
        End::RecordingStopped => "recording stopped",
    }
}

/// Gives how long after the request the first bytes came, and the end.
fn timing(exchange: &Exchange) -> (Option<Duration>, Option<Duration>) {
    let asked = exchange.request.at;
    let first = match exchange.answer().map(|answer| &answer.content) {
        Some(Content::Whole { pieces, .. }) => pieces.first().map(|piece| piece.after_seconds),
        Some(Content::Stream { begun, .. }) => Some(begun.saturating_sub(asked)),
        None => None,
    };
    let end = exchange
        .outcome
        .as_ref()
        .map(|_| exchange.last_moment().saturating_sub(asked));
    (first, end)
}

fn size(exchange: &Exchange) -> Option<u64> {
    match &exchange.answer()?.content {
        Content::Whole { body, .. } => Some(body.len()),
        Content::Stream { pushed, .. } => Some(
            pushed
                .iter()
                .map(|(_, pushed)| match pushed {
                    Pushed::Bytes(body) => body.len(),
                    Pushed::Frame(frame) => frame.body.len(),
                })
                .sum(),
        ),
    }
}

/// Gives a time as `h:mm:ss.mmm`.
fn clock(time: Duration) -> String {
    let seconds = time.as_secs();
    let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
    format!(
        "{hours}:{minutes:02}:{:02}.{:03}",
        seconds % 60,
        time.subsec_millis()
    )
}

/// Gives a short time with its unit.
fn short(time: Duration) -> String {
    match time {
        time if time < Duration::from_secs(1) => format!("{:.1} ms", time.as_secs_f64() * 1000.0),
        time => format!("{:.2} s", time.as_secs_f64()),
    }
}

fn cut(line: &str, width: usize) -> String {
    let line = visible(line);
    if display_width(&line) <= width {
        return line;
    }
    let mut short: String = line.chars().take(width.saturating_sub(1)).collect();
    short.push('…');
    short
}

#[cfg(test)]
mod tests {
    use coldbed_session::SessionFile;

    use super::*;

    fn sample() -> Session {
        SessionFile::read(include_str!("sample.jsonl"))
            .unwrap()
            .session
    }

    #[test]
    fn the_table_has_a_row_for_each_exchange() {
        insta::assert_snapshot!(table(&sample(), 90));
    }

    #[test]
    fn the_timeline_shows_what_was_open_and_what_happened() {
        insta::assert_snapshot!(timeline(&sample(), 80));
    }

    #[test]
    fn one_exchange_is_shown_in_full() {
        let session = sample();
        let all: Vec<String> = session.exchanges.iter().map(exchange).collect();
        insta::assert_snapshot!(all.join("\n======\n"));
    }

    #[test]
    fn a_host_cannot_steer_the_terminal() {
        assert_eq!(visible("a\u{1b}[2Jb"), "a\\u{1b}[2Jb");
    }
}
