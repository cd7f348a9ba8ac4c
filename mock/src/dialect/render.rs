//! [`Node`] and truth -> JSON value.

use minijinja::Value as Term;
use serde_json::{Map, Value};

use super::Problem;
use super::body::{Binding, Branch, Loop, Member, Node, Phrase, Piece};
use super::budget::Budget;
use super::expression::{Expression, NoValue};
use super::scope::Scope;
use super::term;

/// Is what a route has to say about a truth.
#[derive(Debug, Clone, PartialEq)]
pub enum Rendered {
    /// A JSON body, which drifts can be applied to.
    Body(Value),
    /// A body of text.
    Text(String),
    /// A body of bytes.
    Bytes(bytes::Bytes),
    /// No body, as with 204.
    Nothing,
    /// What was asked for does not exist now.
    Missing(Problem),
}

/// Says why a body could not be rendered: a fault of the dialect, found only now.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{message}", place(field, *line, pointer))]
pub struct RenderError {
    /// The field of the dialect file, such as `parts.job`; empty when it is the body as a whole
    /// that went wrong.
    pub field: String,
    /// The line of the dialect file.
    pub line: Option<usize>,
    /// The place in the body, as a JSON Pointer (RFC 6901).
    pub pointer: String,
    /// What went wrong, with the expression.
    pub message: String,
    /// The names the expression uses.
    pub(super) names: Vec<String>,
}

fn place(field: &str, line: Option<usize>, pointer: &str) -> String {
    match line {
        None => String::new(),
        Some(line) if pointer.is_empty() => format!("{field}, line {line}: "),
        Some(line) => format!("{field} at {pointer}, line {line}: "),
    }
}

impl RenderError {
    /// Tells that an expression's value is of no use here.
    pub(super) fn of(expression: &Expression, reason: &str) -> Self {
        Self::new(expression, expression.no_value(reason))
    }

    /// Tells what went wrong in a text.
    pub(super) fn of_text(site: &super::place::Site, message: String, names: Vec<String>) -> Self {
        Self {
            field: site.field.to_string(),
            line: Some(site.line),
            pointer: String::new(),
            message,
            names,
        }
    }

    /// Tells of something that no single expression has caused.
    pub(super) fn of_the_whole(message: String) -> Self {
        Self {
            field: String::new(),
            line: None,
            pointer: String::new(),
            message,
            names: Vec::new(),
        }
    }

    fn new(expression: &Expression, NoValue { message, names }: NoValue) -> Self {
        Self {
            field: expression.site.field.to_string(),
            line: Some(expression.site.line),
            pointer: expression.site.pointer.clone(),
            message,
            names,
        }
    }
}

/// Renders a body.
///
/// A choice of which no branch holds gives null at the root; elsewhere it is left out.
///
/// # Errors
/// An expression without a value, a loop over something else than a list, too large a body.
pub(super) fn body(node: &Node, scope: &Scope) -> Result<Value, RenderError> {
    let mut budget = Budget::new();
    self::node(node, scope, 0, &mut budget).map(|value| value.unwrap_or(Value::Null))
}

/// Renders text with expressions in it.
///
/// # Errors
/// An expression without a value.
pub(super) fn phrase(phrase: &Phrase, scope: &Scope) -> Result<String, RenderError> {
    let mut text = String::new();
    for piece in &phrase.0 {
        match piece {
            Piece::Plain(plain) => text.push_str(plain),
            Piece::Expression(expression) => {
                text.push_str(&term::spell(&evaluate(expression, scope)?));
            }
        }
    }
    Ok(text)
}

/// Tells whether a condition holds.
///
/// # Errors
/// A condition without a value.
pub(super) fn holds(condition: &Expression, scope: &Scope) -> Result<bool, RenderError> {
    evaluate(condition, scope).map(|value| value.is_true())
}

fn evaluate(expression: &Expression, scope: &Scope) -> Result<Term, RenderError> {
    expression
        .evaluate(scope)
        .map_err(|no_value| RenderError::new(expression, no_value))
}

fn node(
    node: &Node,
    scope: &Scope,
    depth: usize,
    budget: &mut Budget,
) -> Result<Option<Value>, RenderError> {
    budget.value(depth)?;
    match node {
        Node::Literal(value) => Ok(Some(value.clone())),
        Node::Typed(expression) => {
            let value = evaluate(expression, scope)?;
            term::json(&value, expression, depth, budget).map(Some)
        }
        Node::Mixed(text) => {
            let text = phrase(text, scope)?;
            budget.text(text.len())?;
            Ok(Some(text.into()))
        }
        Node::Array(items) => array(items, scope, depth, budget).map(Some),
        Node::Object(members) => object(members, scope, depth, budget).map(Some),
        Node::Choice(branches) => match chosen(branches, scope)? {
            Some(value) => self::node(value, scope, depth + 1, budget),
            None => Ok(None),
        },
        Node::With(binding) => {
            let scope = bound(binding, scope)?;
            self::node(&binding.value, &scope, depth + 1, budget)
        }
        Node::Include(part) => self::node(part, scope, depth + 1, budget),
        // Only arrays contain this kind, and they take it apart themselves.
        Node::Elements(each) => {
            let mut all = Vec::new();
            elements(each, scope, depth, budget, &mut all)?;
            Ok(Some(Value::Array(all)))
        }
    }
}

fn array(
    items: &[Node],
    scope: &Scope,
    depth: usize,
    budget: &mut Budget,
) -> Result<Value, RenderError> {
    let mut all = Vec::with_capacity(items.len());
    for item in items {
        if let Node::Elements(each) = item {
            elements(each, scope, depth, budget, &mut all)?;
        } else {
            all.extend(node(item, scope, depth + 1, budget)?);
        }
    }
    Ok(Value::Array(all))
}

fn elements(
    each: &Loop,
    scope: &Scope,
    depth: usize,
    budget: &mut Budget,
    all: &mut Vec<Value>,
) -> Result<(), RenderError> {
    for round in rounds(&each.names, &each.list, scope)? {
        all.extend(node(&each.value, &round?, depth + 1, budget)?);
    }
    Ok(())
}

fn object(
    members: &[Member],
    scope: &Scope,
    depth: usize,
    budget: &mut Budget,
) -> Result<Value, RenderError> {
    let mut object = Map::new();
    for member in members {
        match member {
            Member::Plain { name, value } => {
                if let Some(value) = node(value, scope, depth + 1, budget)? {
                    object.insert(phrase(name, scope)?, value);
                }
            }
            Member::Choice(branches) => {
                if let Some(value) = chosen(branches, scope)? {
                    let value = node(value, scope, depth + 1, budget)?;
                    let first = branches.first().and_then(|first| first.condition.as_ref());
                    merge(&mut object, value, first)?;
                }
            }
            Member::With(binding) => {
                let scope = bound(binding, scope)?;
                let value = node(&binding.value, &scope, depth + 1, budget)?;
                merge(&mut object, value, Some(&binding.bound))?;
            }
            Member::Loop(each) => {
                for round in rounds(&each.names, &each.list, scope)? {
                    let value = node(&each.value, &round?, depth + 1, budget)?;
                    merge(&mut object, value, Some(&each.list))?;
                }
            }
        }
    }
    Ok(Value::Object(object))
}

/// Adds the members of a value; `cause` is the expression that brought it here.
fn merge(
    object: &mut Map<String, Value>,
    value: Option<Value>,
    cause: Option<&Expression>,
) -> Result<(), RenderError> {
    match value {
        None => Ok(()),
        Some(Value::Object(members)) => {
            object.extend(members);
            Ok(())
        }
        Some(other) => {
            let reason = format!("brings {other} among members, and only an object has some");
            Err(match cause {
                Some(cause) => RenderError::of(cause, &reason),
                None => RenderError::of_the_whole(reason),
            })
        }
    }
}

fn chosen<'a>(branches: &'a [Branch], scope: &Scope) -> Result<Option<&'a Node>, RenderError> {
    for branch in branches {
        let holds = match &branch.condition {
            Some(condition) => holds(condition, scope)?,
            None => true,
        };
        if holds {
            return Ok(Some(&branch.value));
        }
    }
    Ok(None)
}

fn bound(binding: &Binding, scope: &Scope) -> Result<Scope, RenderError> {
    Ok(scope.bind(&binding.name, evaluate(&binding.bound, scope)?))
}

/// Gives the scope of each round over a list; `names` is one for the item, or two to take a pair
/// apart.
///
/// # Errors
/// The list has no value, or is none.
pub(super) fn rounds<'a>(
    names: &'a [String],
    list: &'a Expression,
    scope: &'a Scope,
) -> Result<impl Iterator<Item = Result<Scope, RenderError>> + use<'a>, RenderError> {
    let items = term::items(&evaluate(list, scope)?, list)?;
    Ok(items.map(move |item| match names {
        [one, two] => {
            let [first, second] = term::pair(&item, list)?;
            Ok(scope.bind(one, first).bind(two, second))
        }
        names => Ok(names
            .iter()
            .fold(scope.clone(), |scope, name| scope.bind(name, item.clone()))),
    }))
}
