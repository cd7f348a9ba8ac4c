//! A command and its conditions as written -> checked [`OrderTemplate`].

use std::time::Duration;

use http::HeaderValue;

use super::argument::Arguments;
use super::auth::error_status;
use super::reader::Reader;
use crate::dialect::argument::CommandTemplate;
use crate::dialect::compile::Compiler;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Spanned};
use crate::dialect::order::{Again, OrderTemplate, RefusedTemplate};

/// The longest a command may take to have its effect: an hour, which no client waits for.
const MOST_EFFECT_AFTER_MS: u64 = 3_600_000;

/// Checks a route's command.
///
/// # Errors
/// There is no such command, or something about it is missing, malformed or too many.
pub(super) fn check(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
    name: &file::Text,
    compiler: &mut Compiler<'_>,
) -> Result<OrderTemplate, DialectError> {
    let place = |key: &str| format!("{field}.{key}");
    Ok(OrderTemplate {
        command: command(reader, field, raw, name)?,
        when: match &raw.when {
            Some(text) => Some(reader.located(reader.source(&place("when"), text).expression())?),
            None => None,
        },
        again: reader.one_of(
            &place("again"),
            raw.again.as_ref(),
            &[("refused", Again::Refused), ("accepted", Again::Accepted)],
        )?,
        effect_after: reader
            .within_if_there(
                &place("effect-after-ms"),
                raw.effect_after_ms.as_ref(),
                0..=MOST_EFFECT_AFTER_MS,
                "ms",
            )?
            .map_or(Duration::ZERO, Duration::from_millis),
        idempotency_key: match &raw.idempotency_key {
            Some(text) => {
                let field = place("idempotency-key");
                Some(reader.header_name(&field, text.get_ref(), text.span().start)?)
            }
            None => None,
        },
        refused: match &raw.refused {
            Some(refused) => Some(refusal(reader, &place("refused"), refused, compiler)?),
            None => None,
        },
    })
}

/// Checks that a route without a command has nothing that belongs to one.
///
/// # Errors
/// It has.
pub(super) fn none(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
) -> Result<(), DialectError> {
    let start = |text: &Option<file::Text>| text.as_ref().map(|text| text.span().start);
    let keys = [
        raw.arguments.as_ref().map(|table| table.span().start),
        start(&raw.when),
        start(&raw.again),
        raw.effect_after_ms.as_ref().map(|span| span.span().start),
        start(&raw.idempotency_key),
        raw.refused.as_ref().map(|table| table.span().start),
    ];
    match keys.into_iter().flatten().next() {
        None => Ok(()),
        Some(start) => {
            let problem = DialectProblem::Missing { what: "`command`" };
            Err(reader.error(start, field, problem))
        }
    }
}

fn command(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
    name: &file::Text,
) -> Result<CommandTemplate, DialectError> {
    let mut arguments = Arguments {
        reader,
        field,
        given: raw.arguments.as_ref().map(Spanned::get_ref),
        path: raw.path.get_ref(),
        start: name.span().start,
        known: Vec::new(),
    };
    let template = match name.get_ref().as_str() {
        "pause-job" => CommandTemplate::PauseJob,
        "resume-job" => CommandTemplate::ResumeJob,
        "cancel-job" => CommandTemplate::CancelJob,
        "start-job" => CommandTemplate::StartJob {
            job: arguments.take_if_there("job")?,
        },
        "set-target" => CommandTemplate::SetTarget {
            heater: arguments.take("heater", "argument `heater`")?,
            celsius: arguments.take("celsius", "argument `celsius`")?,
        },
        _ => {
            let allowed = format!("one of {}", CommandTemplate::NAMES.join(", "));
            let field = format!("{field}.command");
            return Err(reader.not_allowed(&field, name, &allowed, &CommandTemplate::NAMES));
        }
    };
    arguments.no_more()?;
    Ok(template)
}

fn refusal(
    reader: &Reader<'_>,
    field: &str,
    raw: &Spanned<file::Refused>,
    compiler: &mut Compiler<'_>,
) -> Result<RefusedTemplate, DialectError> {
    let place = |key: &str| format!("{field}.{key}");
    let raw = raw.get_ref();
    let status = raw.status.as_ref();
    let content_type = raw.content_type.as_ref();
    let type_value = |text: &file::Text| -> Result<HeaderValue, DialectError> {
        reader.header_value(&place("content-type"), Some(text), "")
    };
    Ok(RefusedTemplate {
        status: status
            .map(|status| error_status(reader, &place("status"), status))
            .transpose()?,
        content_type: content_type.map(type_value).transpose()?,
        body: match &raw.body {
            Some(text) => {
                Some(reader.located(compiler.compile(&reader.source(&place("body"), text)))?)
            }
            None => None,
        },
    })
}
