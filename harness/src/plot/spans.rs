//! What holds from one moment to another.

use coldbed_mock::sim::Tick;

/// Is a value and the time it holds for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span<T> {
    /// The first moment.
    pub from: Tick,
    /// The moment at which the next value begins, or the window's end.
    pub until: Tick,
    /// What holds.
    pub value: T,
}

/// Collects equal values that follow each other into spans.
#[derive(Debug)]
pub(super) struct Spans<T> {
    spans: Vec<Span<T>>,
}

impl<T: Copy + PartialEq> Spans<T> {
    pub(super) const fn new() -> Self {
        Self { spans: Vec::new() }
    }

    /// Takes the value of the next moment.
    pub(super) fn push(&mut self, at: Tick, value: T) {
        if let Some(last) = self.spans.last_mut() {
            last.until = at;
            if last.value == value {
                return;
            }
        }
        self.spans.push(Span {
            from: at,
            until: at,
            value,
        });
    }

    /// Gives the spans. One that began with the very last moment has no length.
    pub(super) fn finish(self) -> Vec<Span<T>> {
        self.spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_reaches_to_the_moment_the_next_begins() {
        let mut spans = Spans::new();
        for (at, value) in [(5, 'a'), (6, 'a'), (7, 'b'), (8, 'b'), (9, 'a')] {
            spans.push(Tick(at), value);
        }
        let spans: Vec<(u64, u64, char)> = spans
            .finish()
            .into_iter()
            .map(|span| (span.from.0, span.until.0, span.value))
            .collect();
        assert_eq!(spans, [(5, 7, 'a'), (7, 9, 'b'), (9, 9, 'a')]);
    }
}
