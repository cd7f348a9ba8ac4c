//! What to do with the next bytes of an answer: decided here, carried out by the stream.

use super::Fault;

/// Says what to do with the next bytes of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Send at most so many of them, at least one; then ask again.
    Send(usize),
    /// Reset the connection.
    Reset,
}

impl Step {
    /// Decides for an answer of which some bytes are sent and some, at least one, are waiting.
    pub fn next(fault: Option<&Fault>, sent: u64, waiting: usize) -> Self {
        match fault {
            Some(Fault::Reset { after_bytes }) => {
                let left = after_bytes.saturating_sub(sent);
                match usize::try_from(left).unwrap_or(usize::MAX).min(waiting) {
                    0 => Self::Reset,
                    some => Self::Send(some),
                }
            }
            Some(Fault::Refuse | Fault::Status { .. }) | None => Self::Send(waiting),
        }
    }

    /// Tells whether an answer that is still going on, such as a stream of events, has to be given
    /// up now although nothing is waiting.
    pub fn ends_at_once(fault: Option<&Fault>, sent: u64) -> bool {
        Self::next(fault, sent, 1) == Self::Reset
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resets_right_after_the_given_byte_however_the_bytes_come() {
        let fault = Fault::Reset { after_bytes: 10 };
        assert_eq!(Step::next(Some(&fault), 0, 300), Step::Send(10));
        assert_eq!(Step::next(Some(&fault), 7, 300), Step::Send(3));
        assert_eq!(Step::next(Some(&fault), 7, 2), Step::Send(2));
        assert_eq!(Step::next(Some(&fault), 10, 1), Step::Reset);
        assert_eq!(Step::next(Some(&fault), 11, 1), Step::Reset);
        assert_eq!(
            Step::next(Some(&Fault::Reset { after_bytes: 0 }), 0, 1),
            Step::Reset
        );
    }

    #[test]
    fn without_a_fault_of_the_bytes_everything_passes() {
        assert_eq!(Step::next(None, 5, 300), Step::Send(300));
        assert_eq!(Step::next(Some(&Fault::Refuse), 5, 300), Step::Send(300));
        assert!(!Step::ends_at_once(None, 5));
    }
}
