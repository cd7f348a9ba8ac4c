//! Places in a dialect file, and what stands there.

use std::sync::Arc;

use super::body::{Phrase, Piece};
use super::error::DialectProblem;
use super::expression::Expression;
use super::json::Line;
use super::text::{self, Segment, Text};
use crate::pointer;

/// Names a place in a dialect file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Site {
    /// The field, such as `routes[2].body` or `parts.job`.
    pub(super) field: Arc<str>,
    /// The line, counted from 1.
    pub(super) line: usize,
    /// Where in a body, as a JSON Pointer (RFC 6901).
    pub(super) pointer: String,
}

/// Says what is wrong at a place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct BodyError {
    pub(super) site: Site,
    pub(super) problem: Box<DialectProblem>,
}

/// Is a text of the file, its field, and the line on which it begins.
#[derive(Debug, Clone)]
pub(super) struct Source<'a> {
    pub(super) field: Arc<str>,
    pub(super) first_line: usize,
    pub(super) text: &'a str,
}

/// Is where the compiler is inside a text.
#[derive(Debug, Clone)]
pub(super) struct Place {
    field: Arc<str>,
    first_line: usize,
    pointer: String,
}

impl Place {
    /// Begins at the top of a text.
    pub(super) fn top(source: &Source<'_>) -> Self {
        Self {
            field: Arc::clone(&source.field),
            first_line: source.first_line,
            pointer: String::new(),
        }
    }

    /// Goes one step down, escaping the name (RFC 6901 section 3).
    pub(super) fn down(&self, name: &str) -> Self {
        Self {
            pointer: pointer::join(&self.pointer, name),
            ..self.clone()
        }
    }

    /// Gives the site on a line, counted from 0 inside the text.
    pub(super) fn site(&self, line: usize) -> Site {
        Site {
            field: Arc::clone(&self.field),
            line: self.first_line + line,
            pointer: self.pointer.clone(),
        }
    }

    pub(super) fn error(&self, line: usize, problem: DialectProblem) -> BodyError {
        BodyError {
            site: self.site(line),
            problem: Box::new(problem),
        }
    }

    pub(super) fn wrong(&self, text: &Line<String>, message: &str) -> BodyError {
        let problem = DialectProblem::Template {
            text: text.value.clone(),
            message: message.to_owned(),
        };
        self.error(text.line, problem)
    }

    pub(super) fn parse(&self, text: &Line<String>) -> Result<Text, BodyError> {
        text::parse(&text.value).map_err(|message| self.wrong(text, &message))
    }

    pub(super) fn expression(
        &self,
        source: &str,
        text: &Line<String>,
    ) -> Result<Expression, BodyError> {
        Expression::compile(source, self.site(text.line))
            .map_err(|message| self.wrong(text, &message))
    }

    pub(super) fn phrase(
        &self,
        segments: Vec<Segment>,
        text: &Line<String>,
    ) -> Result<Phrase, BodyError> {
        segments
            .into_iter()
            .map(|segment| match segment {
                Segment::Plain(plain) => Ok(Piece::Plain(plain)),
                Segment::Expression(source) => {
                    self.expression(&source, text).map(Piece::Expression)
                }
            })
            .collect::<Result<_, _>>()
            .map(Phrase)
    }
}

impl Source<'_> {
    /// Compiles the text as one expression, such as a route's `exists`.
    ///
    /// # Errors
    /// What is wrong with it.
    pub(super) fn expression(&self) -> Result<Expression, BodyError> {
        Place::top(self).expression(self.text, &self.whole())
    }

    /// Compiles the text as text with expressions in it, such as a route's `missing`.
    ///
    /// # Errors
    /// What is wrong with it.
    pub(super) fn phrase(&self) -> Result<Phrase, BodyError> {
        let place = Place::top(self);
        let segments = match place.parse(&self.whole())? {
            Text::Plain(plain) => vec![Segment::Plain(plain)],
            Text::Typed(expression) => vec![Segment::Expression(expression)],
            Text::Mixed(segments) => segments,
            Text::Directive(_) => {
                return Err(place.wrong(&self.whole(), "takes expressions only"));
            }
        };
        place.phrase(segments, &self.whole())
    }

    fn whole(&self) -> Line<String> {
        Line {
            value: self.text.to_owned(),
            line: 0,
        }
    }
}
