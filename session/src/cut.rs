//! A part of a session.

use std::time::Duration;

use crate::format::End;
use crate::model::{Content, Exchange, Outcome, Session};

impl Session {
    /// Gives what began from one moment to another, its times counted from the first.
    ///
    /// An exchange belongs to the part in which its request is; what of it happens after the part is as if
    /// the recording had stopped there. Connections that were open before are opened at the beginning.
    #[must_use]
    pub fn cut(&self, from: Duration, until: Duration) -> Self {
        let mut part = self.clone();
        let is_in = |at: Duration| at >= from && at <= until;
        let earlier = |at: Duration| at.saturating_sub(from);
        part.exchanges.retain(|exchange| is_in(exchange.request.at));
        for exchange in &mut part.exchanges {
            exchange.end_by(until);
            exchange.shift(earlier);
        }
        part.connections.retain(|connection| {
            let closed = connection.closed.map_or(Duration::MAX, |(at, _, _)| at);
            connection.opened <= until && closed >= from
        });
        for connection in &mut part.connections {
            connection.opened = earlier(connection.opened);
            connection.closed = connection
                .closed
                .filter(|(at, _, _)| *at <= until)
                .map(|(at, by, reset)| (earlier(at), by, reset));
        }
        part
    }
}

impl Exchange {
    /// Leaves out what happens after a moment.
    fn end_by(&mut self, until: Duration) {
        let is_over = self.last_moment() <= until;
        match &mut self.outcome {
            Some(Outcome::NoAnswer { at, .. }) if *at > until => self.outcome = None,
            Some(Outcome::Answered(answer)) => {
                if let Content::Stream { begun, pushed, .. } = &mut answer.content {
                    if *begun > until {
                        self.outcome = None;
                        return;
                    }
                    pushed.retain(|(at, _)| *at <= until);
                    if answer.ended.is_some_and(|(at, _)| at > until) {
                        answer.ended = None;
                    }
                } else if !is_over {
                    // It had begun: what is left of it cannot be told from the whole, so it stays.
                    answer.ended = answer.ended.map(|(_, end): (_, End)| (until, end));
                }
            }
            _ => {}
        }
    }

    fn shift(&mut self, earlier: impl Fn(Duration) -> Duration) {
        self.request.at = earlier(self.request.at);
        match &mut self.outcome {
            None => {}
            Some(Outcome::NoAnswer { at, .. }) => *at = earlier(*at),
            Some(Outcome::Answered(answer)) => {
                answer.ended = answer.ended.map(|(at, end)| (earlier(at), end));
                if let Content::Stream { begun, pushed, .. } = &mut answer.content {
                    *begun = earlier(*begun);
                    for (at, _) in pushed {
                        *at = earlier(*at);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use crate::format::SessionFile;

    fn seconds(seconds: u64) -> Duration {
        Duration::from_secs(seconds)
    }

    const TEXT: &str = r#"{"line":"session","version":1}
{"line":"connection-opened","at-seconds":0,"connection":1}
{"line":"request","at-seconds":1,"connection":1,"exchange":1,"method":"GET","target":"/a","fields":[]}
{"line":"no-answer","at-seconds":2,"exchange":1,"end":"reset"}
{"line":"request","at-seconds":10,"connection":1,"exchange":2,"method":"GET","target":"/b","fields":[]}
{"line":"stream-begun","at-seconds":11,"exchange":2,"status":200,"reason":"","fields":[],"framing":"close","stream":"events"}
{"line":"pushed","at-seconds":12,"exchange":2,"body":{"text":"data: 1\n\n"}}
{"line":"pushed","at-seconds":15,"exchange":2,"body":{"text":"data: 2\n\n"}}
{"line":"stream-ended","at-seconds":16,"exchange":2,"end":"complete"}
{"line":"connection-closed","at-seconds":17,"connection":1,"by":"host"}
"#;

    #[test]
    fn a_part_begins_at_0_and_has_only_what_is_in_it() {
        let part = SessionFile::read(TEXT)
            .unwrap()
            .session
            .cut(seconds(5), seconds(13));
        insta::assert_snapshot!(part.text());
    }

    #[test]
    fn all_of_it_is_what_it_was() {
        let whole = SessionFile::read(TEXT).unwrap().session;
        assert_eq!(whole.cut(Duration::ZERO, seconds(100)), whole);
    }
}
