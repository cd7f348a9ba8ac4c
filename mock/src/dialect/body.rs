//! A body as a tree: JSON with expressions in it, ready to be rendered.

use std::sync::Arc;

use super::expression::Expression;

/// Is one place of a body.
#[derive(Debug)]
pub(super) enum Node {
    /// A value as it is.
    Literal(serde_json::Value),
    /// The value of an expression, with its type.
    Typed(Expression),
    /// A string with expressions in it.
    Mixed(Phrase),
    /// An array.
    Array(Vec<Node>),
    /// An object.
    Object(Vec<Member>),
    /// A value that takes the place of an object with nothing but a choice in it.
    Choice(Vec<Branch>),
    /// As `Choice`, for a name bound round a value.
    With(Binding),
    /// Elements for the array round it.
    Elements(Loop),
    /// A named part.
    Include(Arc<Node>),
}

/// Is text with expressions in it.
#[derive(Debug, Default)]
pub(super) struct Phrase(pub(super) Vec<Piece>);

/// Is a piece of a [`Phrase`].
#[derive(Debug)]
pub(super) enum Piece {
    /// Text as it is.
    Plain(String),
    /// An expression, written as text.
    Expression(Expression),
}

/// Is one thing an object is made of.
#[derive(Debug)]
pub(super) enum Member {
    /// A name with its value.
    Plain { name: Phrase, value: Node },
    /// The members of the first branch that holds.
    Choice(Vec<Branch>),
    /// The members of each round.
    Loop(Loop),
    /// The members of a value with a name bound round it.
    With(Binding),
}

/// Is one branch of a choice.
#[derive(Debug)]
pub(super) struct Branch {
    /// When it holds; `None` is "else".
    pub(super) condition: Option<Expression>,
    pub(super) value: Node,
}

/// Is a value rendered once for each item of a list.
#[derive(Debug)]
pub(super) struct Loop {
    /// One name for the item, or two to take a pair apart.
    pub(super) names: Vec<String>,
    pub(super) list: Expression,
    pub(super) value: Box<Node>,
}

/// Is a value with a name bound round it.
#[derive(Debug)]
pub(super) struct Binding {
    pub(super) name: String,
    pub(super) bound: Expression,
    pub(super) value: Box<Node>,
}
