//! Where an argument is, as written -> checked [`Place`].

use indexmap::IndexMap;

use super::reader::Reader;
use crate::dialect::argument::Place;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Spanned};
use crate::dialect::names;
use crate::pointer::is_pointer;

/// Are the arguments of a route, taken one by one.
pub(super) struct Arguments<'a> {
    pub(super) reader: &'a Reader<'a>,
    pub(super) field: &'a str,
    pub(super) given: Option<&'a IndexMap<String, Spanned<file::Argument>>>,
    /// The path of the route.
    pub(super) path: &'a str,
    /// Where the command stands in the file.
    pub(super) start: usize,
    pub(super) known: Vec<&'static str>,
}

impl Arguments<'_> {
    /// Takes an argument that has to be there.
    ///
    /// # Errors
    /// It is missing or malformed.
    pub(super) fn take(
        &mut self,
        name: &'static str,
        what: &'static str,
    ) -> Result<Place, DialectError> {
        self.take_if_there(name)?.ok_or_else(|| {
            let problem = DialectProblem::Missing { what };
            self.reader.error(self.start, self.field, problem)
        })
    }

    /// Takes an argument that may be there.
    ///
    /// # Errors
    /// It is malformed.
    pub(super) fn take_if_there(
        &mut self,
        name: &'static str,
    ) -> Result<Option<Place>, DialectError> {
        self.known.push(name);
        let field = format!("{}.arguments.{name}", self.field);
        self.given
            .and_then(|given| given.get(name))
            .map(|argument| place(self.reader, &field, argument, self.path))
            .transpose()
    }

    /// Checks that no other argument is given.
    ///
    /// # Errors
    /// The first that is too many.
    pub(super) fn no_more(&self) -> Result<(), DialectError> {
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

/// Checks the place of one argument.
///
/// # Errors
/// None or several places are given, or one that cannot be.
pub(super) fn place(
    reader: &Reader<'_>,
    field: &str,
    argument: &Spanned<file::Argument>,
    path: &str,
) -> Result<Place, DialectError> {
    let wrong = |problem| reader.error(argument.span().start, field, problem);
    let not_allowed = |value: &str, allowed: String| {
        wrong(DialectProblem::NotAllowed {
            value: value.to_owned(),
            allowed,
            hint: None,
        })
    };
    let file::Argument {
        path: in_path,
        query,
        form,
        header,
        body,
        value,
        expression,
    } = argument.get_ref();
    let mut places = Vec::new();
    if let Some(name) = in_path {
        if !path.contains(&format!("{{{name}}}")) {
            return Err(not_allowed(name, format!("a parameter of {path}")));
        }
        places.push(Place::Path(name.clone()));
    }
    places.extend(query.clone().map(Place::Query));
    places.extend(form.clone().map(Place::Form));
    if let Some(name) = header {
        let header = reader.header_name(field, name, argument.span().start)?;
        places.push(Place::Header(header));
    }
    if let Some(pointer) = body {
        if !is_pointer(pointer) {
            return Err(not_allowed(pointer, POINTER.to_owned()));
        }
        places.push(Place::Body(pointer.clone()));
    }
    if let Some(value) = value {
        let value = serde_json::to_value(value).unwrap_or_default();
        places.push(Place::Value(value));
    }
    if let Some(source) = expression {
        let field = format!("{field}.expression");
        let source = reader.source(&field, source);
        places.push(Place::Expression(reader.located(source.expression())?));
    }
    let one = places.pop();
    match one.filter(|_| places.is_empty()) {
        Some(place) => Ok(place),
        None => Err(wrong(DialectProblem::OneOf {
            choices: "`path`, `query`, `form`, `header`, `body`, `value`, `expression`",
        })),
    }
}

/// What a JSON Pointer looks like.
pub(super) const POINTER: &str = "a JSON Pointer: empty, or beginning with `/`, with `~` only as \
                                  ~0 and ~1 (RFC 6901 section 3)";
