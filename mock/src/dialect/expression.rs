//! Expressions over the truth, compiled once.

use std::collections::HashSet;
use std::fmt;
use std::sync::LazyLock;

use minijinja::{Environment, UndefinedBehavior, Value};

use super::filter;
use super::place::Site;
use super::scope::Scope;
use super::text;

/// Has to outlive every compiled expression, so there is one for the whole program.
static ENVIRONMENT: LazyLock<Environment<'static>> = LazyLock::new(environment);

/// Makes an environment with the filters of this language.
///
/// Undefined names are errors: a typo must show when the dialect is read, not as an empty field.
pub(super) fn environment() -> Environment<'static> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    filter::register(&mut environment);
    environment
}

/// Is a compiled expression that knows where it was written.
pub(super) struct Expression {
    compiled: minijinja::Expression<'static, 'static>,
    source: String,
    pub(super) site: Site,
}

/// Says why an expression has no value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct NoValue {
    pub(super) message: String,
    /// The names in the expression, dotted, so that a hint can be found for them.
    pub(super) names: Vec<String>,
}

impl Expression {
    /// Compiles an expression.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub(super) fn compile(source: &str, site: Site) -> Result<Self, String> {
        if !text::brackets_match(source) {
            return Err("brackets do not match".to_owned());
        }
        let compiled = ENVIRONMENT
            .compile_expression_owned(source.to_owned())
            .map_err(|error| describe(&error))?;
        Ok(Self {
            compiled,
            source: source.to_owned(),
            site,
        })
    }

    /// Gives the expression's value.
    ///
    /// # Errors
    /// The names that are undefined, or what went wrong in a filter.
    pub(super) fn evaluate(&self, scope: &Scope) -> Result<Value, NoValue> {
        let value = self
            .compiled
            .eval(scope.value())
            .map_err(|error| self.no_value(&describe(&error)))?;
        if value.is_undefined() {
            return Err(self.no_value("undefined value"));
        }
        Ok(value)
    }

    pub(super) fn no_value(&self, reason: &str) -> NoValue {
        NoValue {
            message: format!("`{}`: {reason}", self.source),
            names: self.names(),
        }
    }

    /// Gives the names in the expression, dotted, in alphabetical order.
    pub(super) fn names(&self) -> Vec<String> {
        let names: HashSet<String> = self.compiled.undeclared_variables(true);
        let mut names: Vec<String> = names.into_iter().collect();
        names.sort();
        names
    }
}

impl fmt::Debug for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Expression({})", self.source)
    }
}

/// Leaves out the line that the library adds: a body's own line is named instead.
pub(super) fn describe(error: &minijinja::Error) -> String {
    match error.detail() {
        Some(detail) => format!("{}: {detail}", error.kind()),
        None => error.kind().to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evaluate(source: &str) -> Result<Value, String> {
        let site = Site {
            field: "body".into(),
            line: 1,
            pointer: String::new(),
        };
        let scope = Scope::new(minijinja::context! { x => 209.96, n => f64::NAN, nothing => () });
        Expression::compile(source, site)?
            .evaluate(&scope)
            .map_err(|no_value| no_value.message)
    }

    #[test]
    fn round_always_has_a_decimal_point_and_whole_never() {
        for (source, written) in [
            ("x | round(1)", "210.0"),
            ("3 | round(1)", "3.0"),
            ("21.25 | round(1)", "21.3"),
            ("-0.04 | round(1)", "0.0"),
            ("x | whole", "210"),
            ("2.5 | whole", "3"),
            ("nothing | round(1)", "None"),
            ("nothing | whole", "None"),
            ("n | round(1)", "None"),
        ] {
            assert_eq!(evaluate(source).unwrap().to_string(), written, "{source}");
        }
    }

    #[test]
    fn an_unknown_name_is_an_error_that_repeats_the_expression() {
        assert_eq!(evaluate("y"), Err("`y`: undefined value".to_owned()));
        assert!(evaluate("y.z").is_err());
        assert!(evaluate("x | rond(1)").is_err());
        assert!(evaluate("'a' | round(1)").is_err());
        assert!(evaluate("1 +").is_err());
        assert!(evaluate("").is_err());
        assert!(evaluate("x }} x").is_err());
    }
}
