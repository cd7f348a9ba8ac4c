//! What a command route asks of the printer, and under which conditions.

use std::time::Duration;

use http::{HeaderName, HeaderValue, StatusCode};

use super::argument::CommandTemplate;
use super::body::Node;
use super::expression::Expression;
use crate::sim::{Command, JobState, Phase, Truth};

/// Is a command as a route of a dialect gives it.
#[derive(Debug)]
pub(super) struct OrderTemplate {
    pub(super) command: CommandTemplate,
    /// When the host takes it at all.
    pub(super) when: Option<Expression>,
    pub(super) again: Again,
    pub(super) effect_after: Duration,
    /// The field that names a request, so that it is carried out only once.
    pub(super) idempotency_key: Option<HeaderName>,
    pub(super) refused: Option<RefusedTemplate>,
}

/// Says what comes of a command for what is so already, such as a pause while paused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Again {
    /// It is refused like any other in the wrong state.
    Refused,
    /// It is answered as if it had done something.
    Accepted,
}

/// Is how a route answers what it does not carry out.
#[derive(Debug)]
pub(super) struct RefusedTemplate {
    /// The status for every kind of refusal, if the host has only one.
    pub(super) status: Option<StatusCode>,
    pub(super) content_type: Option<HeaderValue>,
    pub(super) body: Option<Node>,
}

/// Is a command read out of a request.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// What is asked.
    pub command: Command,
    /// How long after the request it takes effect, in virtual time.
    pub effect_after: Duration,
    /// What names the request: a second one of the same name is answered like the first and not
    /// carried out again.
    pub idempotency_key: Option<String>,
}

impl OrderTemplate {
    /// Tells whether a command is for what is so already and that is no error to this host.
    ///
    /// # Source
    /// RFC 9110 section 9.2.2: the effect of several such requests is that of one.
    pub(super) fn is_done_already(&self, command: &Command, truth: &Truth) -> bool {
        self.again == Again::Accepted && is_so(command, truth)
    }
}

fn is_so(command: &Command, truth: &Truth) -> bool {
    let job = truth.job.as_ref().map(|job| job.state);
    match command {
        Command::PauseJob => truth.phase == Phase::Paused,
        Command::ResumeJob => job == Some(JobState::Processing),
        Command::CancelJob => job == Some(JobState::Canceled),
        // A second start asks for a second job.
        Command::StartJob { .. } => false,
        // A target that is set already is set again, which no printer refuses.
        Command::SetTarget { .. } => false,
    }
}
