//! The report as one page of HTML: no network, no script needed for reading it.
//!
//! The page is written so that it is well-formed XML, too, and whatever a watcher, a host or a
//! scenario wrote in it is text: the template's formatter escapes every value.

mod evidence;
mod log;
mod page;
mod plot;
mod words;

use minijinja::{
    AutoEscape, Environment, Error, ErrorKind, Output, State, UndefinedBehavior, Value,
};

use super::Report;
use super::legible::legible_lines;
use crate::run::CheckResult;
use page::Page;

const TEMPLATES: [(&str, &str); 3] = [
    ("page.html", include_str!("page.html")),
    ("evidence.html", include_str!("evidence.html")),
    ("plot.html", include_str!("plot.html")),
];
const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("filter.js");

/// Says why the page could not be made.
#[derive(Debug, thiserror::Error)]
#[error("the report cannot be written as HTML")]
pub struct HtmlError(#[from] Error);

/// Makes the page; the results give the plots and the bytes of what was broken. The same input gives
/// the same text.
///
/// # Errors
/// [`HtmlError`] when the template fails, which is a bug of ours.
pub fn html(report: &Report, results: &[CheckResult]) -> Result<String, HtmlError> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    environment.set_keep_trailing_newline(true);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.set_formatter(write_value);
    environment.add_function("part", part);
    for (name, text) in TEMPLATES {
        environment.add_template(name, text)?;
    }
    let page = Page::of(report, results);
    let context = minijinja::context! {
        page => Value::from_serialize(&page),
        style => Value::from_safe_string(STYLE.to_owned()),
        script => Value::from_safe_string(SCRIPT.to_owned()),
    };
    Ok(environment.get_template("page.html")?.render(context)?)
}

/// Writes a part of the page by its own template, which finds the value as `it`.
fn part(state: &State<'_, '_>, name: &str, it: &Value) -> Result<Value, Error> {
    let template = state.env().get_template(name)?;
    let text = template.render(minijinja::context! { it => it })?;
    Ok(Value::from_safe_string(text))
}

/// Writes a value as text: what no XML may hold is told, the rest is escaped.
fn write_value(out: &mut Output<'_>, state: &State<'_, '_>, value: &Value) -> Result<(), Error> {
    match value.as_str() {
        Some(text) if !value.is_safe() => {
            minijinja::escape_formatter(out, state, &Value::from(legible_lines(text)))
        }
        Some(text) => out.write_str(text).map_err(Error::from),
        None if value.is_undefined() || value.is_none() => Err(Error::new(
            ErrorKind::UndefinedError,
            "the template writes what is not there",
        )),
        None => minijinja::escape_formatter(out, state, value),
    }
}
