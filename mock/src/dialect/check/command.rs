//! A command and its arguments as written -> checked [`CommandTemplate`].

use indexmap::IndexMap;
use toml::Spanned;

use super::reader::Reader;
use crate::dialect::argument::{CommandTemplate, Place};
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::{file, names};

/// Checks a route's command.
///
/// # Errors
/// There is no such command, or an argument is missing, malformed or too many.
pub(super) fn check(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
    name: &file::Text,
) -> Result<CommandTemplate, DialectError> {
    let mut arguments = Arguments {
        reader,
        field,
        given: raw.arguments.as_ref().map(|table| table.get_ref()),
        path: raw.path.get_ref(),
        start: name.span().start,
        known: Vec::new(),
    };
    let template = match name.get_ref().as_str() {
        "pause-job" => CommandTemplate::PauseJob,
        "resume-job" => CommandTemplate::ResumeJob,
        "cancel-job" => CommandTemplate::CancelJob,
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

struct Arguments<'a> {
    reader: &'a Reader<'a>,
    field: &'a str,
    given: Option<&'a IndexMap<String, Spanned<file::Argument>>>,
    path: &'a str,
    start: usize,
    known: Vec<&'static str>,
}

impl Arguments<'_> {
    fn take(&mut self, name: &'static str, what: &'static str) -> Result<Place, DialectError> {
        self.known.push(name);
        let field = format!("{}.arguments.{name}", self.field);
        let Some(argument) = self.given.and_then(|given| given.get(name)) else {
            let problem = DialectProblem::Missing { what };
            return Err(self.reader.error(self.start, self.field, problem));
        };
        let wrong = |problem| self.reader.error(argument.span().start, &field, problem);
        match argument.get_ref() {
            file::Argument {
                path: Some(name),
                body: None,
                value: None,
            } => {
                if self.path.contains(&format!("{{{name}}}")) {
                    return Ok(Place::Path(name.clone()));
                }
                Err(wrong(DialectProblem::NotAllowed {
                    value: name.clone(),
                    allowed: format!("a parameter of {}", self.path),
                    hint: None,
                }))
            }
            file::Argument {
                path: None,
                body: Some(pointer),
                value: None,
            } => {
                if is_pointer(pointer) {
                    return Ok(Place::Body(pointer.clone()));
                }
                Err(wrong(DialectProblem::NotAllowed {
                    value: pointer.clone(),
                    allowed: "a JSON Pointer: empty, or beginning with `/`, with `~` only as ~0 \
                              and ~1 (RFC 6901 section 3)"
                        .to_owned(),
                    hint: None,
                }))
            }
            file::Argument {
                path: None,
                body: None,
                value: Some(value),
            } => Ok(Place::Value(
                serde_json::to_value(value).unwrap_or_default(),
            )),
            _ => Err(wrong(DialectProblem::OneOf {
                choices: "`path`, `body`, `value`",
            })),
        }
    }

    fn no_more(&self) -> Result<(), DialectError> {
        let strange = self.given.and_then(|given| {
            given
                .iter()
                .find(|(name, _)| !self.known.contains(&name.as_str()))
        });
        let Some((name, argument)) = strange else {
            return Ok(());
        };
        let problem = DialectProblem::NotAllowed {
            value: name.clone(),
            allowed: match self.known.as_slice() {
                [] => "wanted: the command has no arguments".to_owned(),
                known => format!("one of {}", known.join(", ")),
            },
            hint: names::nearest(name, self.known.iter().copied()),
        };
        let field = format!("{}.arguments", self.field);
        Err(self.reader.error(argument.span().start, &field, problem))
    }
}

/// Tells whether text is a JSON Pointer (RFC 6901 section 3).
fn is_pointer(text: &str) -> bool {
    (text.is_empty() || text.starts_with('/'))
        && text
            .split('~')
            .skip(1)
            .all(|rest| rest.starts_with(['0', '1']))
}
