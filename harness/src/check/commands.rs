//! Commands: what a watcher asks of the printer, where it asks for anything.

use std::time::Duration;

use coldbed_mock::fault::{Fault, Position, Scope, ScopedFault};
use coldbed_mock::sim::Phase;

use super::{Area, Check, Context, Field, Level, NotPlanned, Plan, Step, episodes};
use crate::oracle;
use crate::watcher::CommandKind;

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "command-not-sent-once",
        requirement: "a command is sent once, and what comes of it is shown",
        provoked: "the watcher is told to pause the print while the printer prints",
        plan: |context| around(context, CommandKind::Pause, None),
        oracle: |trace, _| {
            oracle::verify_command_once(trace).and_then(|| oracle::verify_phases(trace))
        },
        ..COMMAND
    },
    Check {
        id: "command-repeated-after-lost-answer",
        requirement: "a command whose answer was lost is not sent again: it may have been carried out, and the state tells",
        provoked: "the watcher is told to pause the print, and the connection is reset before the answer",
        plan: |context| {
            let lost = ScopedFault {
                fault: Fault::reset_at(Position::Start),
                scope: Scope {
                    method: Some("POST".to_owned()),
                    ..Scope::times(1)
                },
            };
            around(context, CommandKind::Pause, Some(lost))
        },
        ..COMMAND
    },
    Check {
        id: "refused-command-repeated",
        requirement: "a command that the host refuses in this state is not sent again, and the watcher goes on",
        source: "RFC 9110 section 15.5.10 (409: the user may be able to resolve the conflict)",
        provoked: "the watcher is told to resume while the printer prints",
        plan: |context| around(context, CommandKind::Resume, None),
        oracle: |trace, _| {
            oracle::verify_command_once(trace).and_then(|| oracle::verify_phases(trace))
        },
        ..COMMAND
    },
];

const COMMAND: Check = Check {
    id: "",
    area: Area::Commands,
    level: Level::Must,
    requirement: "",
    source: "RFC 9110 section 9.2.2 (methods that are not idempotent are not repeated by themselves)",
    provoked: "",
    judged: "the unsafe requests that reach the host after the command are counted",
    scenario: "heat-up",
    needs: Field::Nothing,
    plan: |_| Ok(Plan::default()),
    oracle: |trace, _| oracle::verify_command_once(trace),
};

/// Plans a command in the middle of a print, and some answers after it.
fn around(
    context: &Context,
    command: CommandKind,
    fault: Option<ScopedFault>,
) -> Result<Plan, NotPlanned> {
    if !context.commands.contains(&command) {
        return Err(NotPlanned(format!(
            "the watcher file has no command `{}`",
            command.word()
        )));
    }
    let printing = episodes(&context.scenario, 1)
        .into_iter()
        .find(|episode| episode.phase == Phase::Printing)
        .ok_or_else(|| NotPlanned("nothing is printed".to_owned()))?;
    let visit = |from| Step::Visit {
        from,
        per_poll: Duration::from_secs(1),
        answers: 4,
    };
    let mut plan = Plan::of([visit(Some(printing.from.start()))]);
    plan.steps.extend(fault.map(Step::RaiseFault));
    plan.steps.extend([
        Step::Command(command),
        visit(None),
        visit(None),
        Step::ClearFaults,
    ]);
    Ok(plan)
}
