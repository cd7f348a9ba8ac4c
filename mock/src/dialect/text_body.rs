//! Text bodies: whole templates.

use std::fmt;

use minijinja::Environment;

use super::error::DialectProblem;
use super::expression;
use super::place::{BodyError, Site, Source};
use super::render::RenderError;
use super::scope::Scope;

/// How many steps a text may take to render; a loop over a loop must not go on for ever.
///
/// Chosen: a line of text takes some ten steps, so this is far above any body of a small host.
const MAX_STEPS: u64 = 1_000_000;

/// The longest text, in bytes.
///
/// Chosen as the limit of JSON bodies.
const MAX_BYTES: usize = 4_000_000;

const NAME: &str = "text";

/// Is a compiled text.
pub(super) struct TextTemplate {
    environment: Environment<'static>,
    site: Site,
}

impl TextTemplate {
    /// Compiles a text. It may have everything the template language has, except other templates.
    ///
    /// # Errors
    /// The first slip, with its line.
    pub(super) fn compile(source: &Source<'_>) -> Result<Self, BodyError> {
        let mut environment = expression::environment();
        environment.set_fuel(Some(MAX_STEPS));
        environment.set_keep_trailing_newline(true);
        let site = Site {
            field: source.field.clone(),
            line: source.first_line,
            pointer: String::new(),
        };
        match environment.add_template_owned(NAME, source.text.to_owned()) {
            Ok(()) => Ok(Self { environment, site }),
            Err(error) => Err(BodyError {
                site: at(&site, &error),
                problem: Box::new(DialectProblem::Template {
                    text: line(source.text, error.line()).to_owned(),
                    message: expression::describe(&error),
                }),
            }),
        }
    }

    /// Renders the text.
    ///
    /// # Errors
    /// An expression without a value, or too long a text.
    pub(super) fn render(&self, scope: &Scope) -> Result<String, RenderError> {
        let wrong = |site: &Site, message: String, names: Vec<String>| {
            Err(RenderError::of_text(site, message, names))
        };
        let template = match self.environment.get_template(NAME) {
            Ok(template) => template,
            Err(error) => return wrong(&self.site, expression::describe(&error), Vec::new()),
        };
        match template.render(scope.value()) {
            Ok(text) if text.len() <= MAX_BYTES => Ok(text),
            Ok(_) => {
                let message = format!("text is longer than {MAX_BYTES} bytes");
                wrong(&self.site, message, Vec::new())
            }
            Err(error) => {
                let line = line(template.source(), error.line());
                let message = format!("`{line}`: {}", expression::describe(&error));
                let mut names: Vec<String> =
                    template.undeclared_variables(true).into_iter().collect();
                names.sort();
                wrong(&at(&self.site, &error), message, names)
            }
        }
    }
}

fn at(site: &Site, error: &minijinja::Error) -> Site {
    Site {
        line: site.line + error.line().unwrap_or(1).saturating_sub(1),
        ..site.clone()
    }
}

fn line(text: &str, number: Option<usize>) -> &str {
    text.lines()
        .nth(number.unwrap_or(1).saturating_sub(1))
        .unwrap_or_default()
        .trim()
}

impl fmt::Debug for TextTemplate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "TextTemplate({})", self.site.field)
    }
}
