//! Dialect file as written -> checked [`DialectFile`].

mod announce;
mod argument;
mod auth;
mod content;
mod cors;
mod http;
mod mqtt;
mod order;
mod push;
mod reader;
mod redirects;
mod route;
mod trial;

use ::http::HeaderMap;
use indexmap::IndexMap;

use super::answer::extend;
use super::compile::Compiler;
use super::error::{DialectError, DialectProblem};
use super::file::{self, File, Layer, Whole, Words};
use super::place::{Place, Source};
use super::problem::ProblemTemplate;
use super::router::Router;
use super::{Dialect, DialectFile, names, text};
use crate::scenario::{Files, NoFiles};

pub(in crate::dialect) use auth::NAMES as SCHEMES;
pub(in crate::dialect) use reader::Reader;
pub(in crate::dialect) use route::METHODS;

impl DialectFile {
    /// Reads and checks a dialect that names no other file.
    ///
    /// # Errors
    /// As [`DialectFile::load`].
    pub fn parse(file: &str, text: &str) -> Result<Self, DialectError> {
        Self::load(file, text, &NoFiles)
    }

    /// Reads and checks a dialect with all its versions.
    ///
    /// `file` is the name that errors are given under. Every body is rendered once for each kind
    /// of truth, so that a misspelt field is found here and not in the middle of a run.
    ///
    /// # Errors
    /// The first thing that is wrong, with its line, field, value and what is allowed.
    ///
    /// # Example
    /// ```
    /// use coldbed_mock::dialect::DialectFile;
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
    /// let error = DialectFile::parse("mine.toml", text).unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "mine.toml:8: routes[0].body at /state: cannot be rendered with no job: \
    ///      `printer.stat`: undefined value (did you mean `printer.state`?)"
    /// );
    /// assert!(DialectFile::parse("mine.toml", &text.replace("stat }", "state }")).is_ok());
    /// ```
    pub fn load(file: &str, text: &str, files: &dyn Files) -> Result<Self, DialectError> {
        let reader = Reader { file, text, files };
        let raw: File = reader.toml()?;
        let wholes = file::layers(&raw).map_err(|bad| {
            let problem = DialectProblem::NotAllowed {
                hint: names::nearest(&bad.value, bad.known.iter().map(String::as_str)),
                value: bad.value,
                allowed: bad.allowed,
            };
            reader.error(bad.byte, &bad.field, problem)
        })?;
        let checked = wholes.iter().enumerate();
        let versions: Vec<Dialect> = checked
            .map(|(place, whole)| version(&reader, whole, place))
            .collect::<Result<_, _>>()?;
        Ok(Self::new(versions))
    }
}

impl Dialect {
    /// Reads a dialect and gives its first version.
    ///
    /// # Errors
    /// As [`DialectFile::load`].
    pub fn parse(file: &str, text: &str) -> Result<Self, DialectError> {
        let reader = Reader {
            file,
            text,
            files: &NoFiles,
        };
        let raw: File = reader.toml()?;
        version(&reader, &file::own(&raw), 0)
    }
}

/// Checks one version.
fn version(reader: &Reader<'_>, whole: &Whole<'_>, place: usize) -> Result<Dialect, DialectError> {
    let sources: IndexMap<String, Source<'_>> = whole
        .parts
        .iter()
        .map(|(name, part)| {
            let source = reader.source(&part.field, part.written);
            ((*name).to_owned(), source)
        })
        .collect();
    let mut compiler = Compiler::new(&sources);
    for (name, source) in &sources {
        let site = Place::top(source).site(0);
        reader.located(compiler.part(name, &site))?;
    }
    let mut router = Router::default();
    let mut routes = Vec::new();
    for Layer { field, written } in &whole.routes {
        let checked = route::check(reader, field, written, &mut compiler)?;
        route::add(reader, field, written, &checked, &mut router)?;
        routes.push(checked);
    }
    let (auth, refusal_status) = auth::check(reader, &whole.auth)?;
    let words = check_words(reader, &whole.words)?;
    let mqtt = whole.mqtt;
    let mqtt = mqtt.map(|raw| mqtt::check(reader, raw, &words, &mut compiler));
    let announce = whole.announce;
    let announce = announce.map(|raw| announce::check(reader, raw));
    let dialect = Dialect {
        name: reader.file.to_owned(),
        title: whole.title.map(str::to_owned),
        version: whole.name.clone(),
        place,
        auth,
        refusal_status,
        headers: check_headers(reader, &whole.headers)?,
        http: http::check(reader, whole.http)?,
        redirects: redirects::check(reader, whole.redirects, &routes)?,
        problem: check_problem(reader, &whole.problem, &mut compiler)?,
        words,
        routes,
        router,
        mqtt: mqtt.transpose()?,
        announce: announce.transpose()?,
    };
    auth::check_log_in(reader, &whole.auth, &dialect)?;
    trial::run(&dialect, reader, whole)?;
    Ok(dialect)
}

fn check_headers(
    reader: &Reader<'_>,
    layers: &[Layer<&IndexMap<String, file::Text>>],
) -> Result<HeaderMap, DialectError> {
    let mut headers = HeaderMap::new();
    for Layer { field, written } in layers {
        extend(&mut headers, &reader.headers(field, written)?);
    }
    Ok(headers)
}

fn check_problem(
    reader: &Reader<'_>,
    Layer { field, written }: &Layer<&file::Problem>,
    compiler: &mut Compiler<'_>,
) -> Result<ProblemTemplate, DialectError> {
    let place = |name: &str| format!("{field}.{name}");
    Ok(ProblemTemplate {
        content_type: reader.header_value(
            &place("content-type"),
            written.content_type.as_ref(),
            "application/problem+json",
        )?,
        headers: reader.headers(&place("headers"), &written.headers)?,
        body: reader.located(compiler.compile(&reader.source(&place("body"), &written.body)))?,
    })
}

fn check_words(
    reader: &Reader<'_>,
    layers: &[Layer<&Words>],
) -> Result<minijinja::Value, DialectError> {
    let mut words: IndexMap<&str, IndexMap<&str, &toml::Value>> = IndexMap::new();
    for Layer { field, written } in layers {
        for (name, table) in *written {
            if !text::is_name(name) {
                let problem = DialectProblem::NotAllowed {
                    value: name.clone(),
                    allowed: "a name of letters, digits and `_`, as expressions need it".to_owned(),
                    hint: None,
                };
                return Err(reader.error(table.span().start, field, problem));
            }
            let table = table
                .get_ref()
                .iter()
                .map(|(key, word)| (key.as_str(), word));
            words.entry(name).or_default().extend(table);
        }
    }
    Ok(minijinja::Value::from_serialize(&words))
}
