//! Dialect file as written -> checked [`Dialect`].

mod command;
mod push;
mod reader;
mod route;
mod trial;

use indexmap::IndexMap;
use toml::Spanned;

use super::auth::{self, AuthScheme};
use super::compile::Compiler;
use super::error::{DialectError, DialectProblem};
use super::file::{self, File};
use super::place::{Place, Source};
use super::problem::ProblemTemplate;
use super::router::Router;
use super::{Dialect, text};
use reader::Reader;

impl Dialect {
    /// Reads and checks a dialect.
    ///
    /// `file` is the name that errors are given under. Every body is rendered once for each kind
    /// of truth, so that a misspelt field is found here and not in the middle of a run.
    ///
    /// # Errors
    /// The first thing that is wrong, with its line, field, value and what is allowed.
    ///
    /// # Example
    /// ```
    /// use coldbed_mock::dialect::Dialect;
    ///
    /// let text = r#"
    /// auth = { scheme = "none" }
    /// problem = { body = '"{{ title }}"' }
    ///
    /// [[routes]]
    /// method = "GET"
    /// path = "/"
    /// body = '{ "state": "{{ printer.stat }}" }'
    /// "#;
    /// let error = Dialect::parse("mine.toml", text).unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "mine.toml:8: routes[0].body at /state: cannot be rendered with no job: \
    ///      `printer.stat`: undefined value (did you mean `printer.state`?)"
    /// );
    /// assert!(Dialect::parse("mine.toml", &text.replace("stat }", "state }")).is_ok());
    /// ```
    pub fn parse(file: &str, text: &str) -> Result<Self, DialectError> {
        let reader = Reader { file, text };
        let raw: File = reader.toml()?;
        let part = |(name, body)| {
            (
                String::clone(name),
                reader.source(&format!("parts.{name}"), body),
            )
        };
        let sources: IndexMap<String, Source<'_>> = raw.parts.iter().map(part).collect();
        let mut compiler = Compiler::new(&sources);
        for (name, source) in &sources {
            let site = Place::top(source).site(0);
            reader.located(compiler.part(name, &site))?;
        }
        let mut router = Router::default();
        let mut routes = Vec::new();
        for (index, route) in raw.routes.iter().enumerate() {
            let field = format!("routes[{index}]");
            let checked = route::check(&reader, &field, route, &mut compiler)?;
            route::add(&reader, &field, route, &checked, &mut router)?;
            routes.push(checked);
        }
        let dialect = Self {
            name: file.to_owned(),
            auth: check_auth(&reader, &raw.auth)?,
            headers: reader.headers("headers", &raw.headers)?,
            problem: check_problem(&reader, &raw.problem, &mut compiler)?,
            words: check_words(&reader, &raw.words)?,
            routes,
            router,
        };
        trial::run(&dialect, &reader)?;
        Ok(dialect)
    }
}

fn check_auth(reader: &Reader<'_>, auth: &file::Auth) -> Result<AuthScheme, DialectError> {
    /// The schemes' names in a file.
    const NAMES: [&str; 2] = ["bearer", "none"];
    match auth.scheme.get_ref().as_str() {
        "none" => match &auth.realm {
            None => Ok(AuthScheme::None),
            Some(realm) => Err(reader.error(
                realm.span().start,
                "auth.realm",
                DialectProblem::Both {
                    one: "a realm",
                    other: "scheme `none`",
                },
            )),
        },
        "bearer" => match &auth.realm {
            Some(realm) if auth::is_realm(realm.get_ref()) => Ok(AuthScheme::Bearer {
                realm: realm.get_ref().clone(),
            }),
            Some(realm) => {
                Err(reader.not_allowed("auth.realm", realm, "visible ASCII without \" and \\", &[]))
            }
            None => Err(reader.error(
                auth.scheme.span().start,
                "auth",
                DialectProblem::Missing { what: "`realm`" },
            )),
        },
        _ => Err(reader.not_allowed("auth.scheme", &auth.scheme, "one of bearer, none", &NAMES)),
    }
}

fn check_problem(
    reader: &Reader<'_>,
    problem: &file::Problem,
    compiler: &mut Compiler<'_>,
) -> Result<ProblemTemplate, DialectError> {
    Ok(ProblemTemplate {
        content_type: reader.header_value(
            "problem.content-type",
            problem.content_type.as_ref(),
            "application/problem+json",
        )?,
        headers: reader.headers("problem.headers", &problem.headers)?,
        body: reader.located(compiler.compile(&reader.source("problem.body", &problem.body)))?,
    })
}

fn check_words(
    reader: &Reader<'_>,
    words: &IndexMap<String, Spanned<IndexMap<String, toml::Value>>>,
) -> Result<minijinja::Value, DialectError> {
    for (name, table) in words {
        if !text::is_name(name) {
            return Err(reader.error(
                table.span().start,
                "words",
                DialectProblem::NotAllowed {
                    value: name.clone(),
                    allowed: "a name of letters, digits and `_`, as expressions need it".to_owned(),
                    hint: None,
                },
            ));
        }
    }
    let plain: IndexMap<&str, &IndexMap<String, toml::Value>> = words
        .iter()
        .map(|(name, table)| (name.as_str(), table.get_ref()))
        .collect();
    Ok(minijinja::Value::from_serialize(&plain))
}
