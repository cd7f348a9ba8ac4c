//! Versions as written -> each with everything it takes from those it extends.

use super::Spanned;
use indexmap::IndexMap;

use super::{Announce, Auth, File, Http, Mqtt, Problem, Redirect, Route, Text, Words};

/// Is a part of a file with the field it stands in.
#[derive(Debug, Clone)]
pub(in crate::dialect) struct Layer<T> {
    pub(in crate::dialect) field: String,
    pub(in crate::dialect) written: T,
}

/// Is one version, its layers put over each other.
#[derive(Debug, Clone)]
pub(in crate::dialect) struct Whole<'a> {
    pub(in crate::dialect) name: String,
    pub(in crate::dialect) title: Option<&'a str>,
    pub(in crate::dialect) auth: Layer<&'a Auth>,
    pub(in crate::dialect) problem: Layer<&'a Problem>,
    /// The lowest layer first; a later one hides equal names.
    pub(in crate::dialect) headers: Vec<Layer<&'a IndexMap<String, Text>>>,
    pub(in crate::dialect) words: Vec<Layer<&'a Words>>,
    pub(in crate::dialect) parts: IndexMap<&'a str, Layer<&'a Text>>,
    pub(in crate::dialect) routes: Vec<Layer<&'a Spanned<Route>>>,
    // Errors in these are told by line; the field is that of the file's own version.
    pub(in crate::dialect) http: Option<&'a Http>,
    pub(in crate::dialect) redirects: &'a [Redirect],
    pub(in crate::dialect) mqtt: Option<&'a Spanned<Mqtt>>,
    pub(in crate::dialect) announce: Option<&'a Announce>,
}

/// Says why versions cannot be put over each other, and at which byte of the file.
#[derive(Debug)]
pub(in crate::dialect) struct BadLayer {
    pub(in crate::dialect) byte: usize,
    pub(in crate::dialect) field: String,
    pub(in crate::dialect) value: String,
    pub(in crate::dialect) allowed: String,
    pub(in crate::dialect) known: Vec<String>,
}

/// The name of a file's own version where it gives none.
const FIRST: &str = "1.0";

/// Gives every version of a file, its own first, in the order of the file.
///
/// # Errors
/// Two versions of one name, one that extends an unknown one, or something to be left out that is
/// not there.
pub(in crate::dialect) fn layers(file: &File) -> Result<Vec<Whole<'_>>, BadLayer> {
    let mut wholes = vec![own(file)];
    for (index, version) in file.versions.iter().enumerate() {
        let field = |name: &str| format!("versions[{index}].{name}");
        let version = version.get_ref();
        let known: Vec<String> = wholes.iter().map(|whole| whole.name.clone()).collect();
        let bad = |name: &str, text: &Text, allowed: String, known: Vec<String>| BadLayer {
            byte: text.span().start,
            field: field(name),
            value: text.get_ref().clone(),
            allowed,
            known,
        };
        if known.contains(version.name.get_ref()) {
            let allowed = "a name of its own: an earlier version has it".to_owned();
            return Err(bad("name", &version.name, allowed, Vec::new()));
        }
        let below = match &version.extends {
            None => wholes.last(),
            Some(name) => wholes.iter().find(|whole| whole.name == *name.get_ref()),
        };
        let Some(below) = below else {
            let text = version.extends.as_ref().unwrap_or(&version.name);
            let allowed = format!("an earlier version ({})", known.join(", "));
            return Err(bad("extends", text, allowed, known));
        };
        let mut whole = below.clone();
        whole.name.clone_from(version.name.get_ref());
        whole.leave_out(&version.without).map_err(|(place, text)| {
            let allowed = "a route of the version it extends, as `GET /path`".to_owned();
            bad(
                &format!("without[{place}]"),
                text,
                allowed,
                below.route_names(),
            )
        })?;
        whole.put_over(version, index);
        wholes.push(whole);
    }
    Ok(wholes)
}

/// Gives a file's own version.
pub(in crate::dialect) fn own(file: &File) -> Whole<'_> {
    let layer = |field: &str| field.to_owned();
    let name = file.version.as_ref().map(|name| name.get_ref().clone());
    Whole {
        name: name.unwrap_or_else(|| FIRST.to_owned()),
        title: file.title.as_ref().map(|title| title.get_ref().as_str()),
        auth: Layer {
            field: layer("auth"),
            written: &file.auth,
        },
        problem: Layer {
            field: layer("problem"),
            written: &file.problem,
        },
        headers: vec![Layer {
            field: layer("headers"),
            written: &file.headers,
        }],
        words: vec![Layer {
            field: layer("words"),
            written: &file.words,
        }],
        parts: parts("", &file.parts).collect(),
        routes: routes("", &file.routes).collect(),
        http: file.http.as_ref(),
        redirects: &file.redirects,
        mqtt: file.mqtt.as_ref(),
        announce: file.announce.as_ref(),
    }
}

fn parts<'a>(
    prefix: &str,
    parts: &'a IndexMap<String, Text>,
) -> impl Iterator<Item = (&'a str, Layer<&'a Text>)> {
    parts.iter().map(move |(name, written)| {
        let field = format!("{prefix}parts.{name}");
        (name.as_str(), Layer { field, written })
    })
}

fn routes<'a>(
    prefix: &str,
    routes: &'a [Spanned<Route>],
) -> impl Iterator<Item = Layer<&'a Spanned<Route>>> {
    routes.iter().enumerate().map(move |(index, written)| {
        let field = format!("{prefix}routes[{index}]");
        Layer { field, written }
    })
}

impl<'a> Whole<'a> {
    fn put_over(&mut self, version: &'a super::Version, index: usize) {
        let prefix = format!("versions[{index}].");
        let field = |name: &str| format!("{prefix}{name}");
        if let Some(written) = &version.auth {
            let field = field("auth");
            self.auth = Layer { field, written };
        }
        if let Some(written) = &version.problem {
            let field = field("problem");
            self.problem = Layer { field, written };
        }
        self.http = version.http.as_ref().or(self.http);
        if !version.redirects.is_empty() {
            self.redirects = &version.redirects;
        }
        self.mqtt = version.mqtt.as_ref().or(self.mqtt);
        self.announce = version.announce.as_ref().or(self.announce);
        self.headers.push(Layer {
            field: field("headers"),
            written: &version.headers,
        });
        self.words.push(Layer {
            field: field("words"),
            written: &version.words,
        });
        self.parts.extend(parts(&prefix, &version.parts));
        for route in routes(&prefix, &version.routes) {
            let same = |known: &&mut Layer<&Spanned<Route>>| {
                is_same(known.written.get_ref(), route.written.get_ref())
            };
            match self.routes.iter_mut().find(same) {
                Some(known) => *known = route,
                None => self.routes.push(route),
            }
        }
    }

    /// Leaves routes out; gives the first name that is of none.
    fn leave_out<'t>(&mut self, without: &'t [Text]) -> Result<(), (usize, &'t Text)> {
        for (place, text) in without.iter().enumerate() {
            let before = self.routes.len();
            self.routes
                .retain(|route| name(route.written.get_ref()) != *text.get_ref());
            if self.routes.len() == before {
                return Err((place, text));
            }
        }
        Ok(())
    }

    fn route_names(&self) -> Vec<String> {
        self.routes
            .iter()
            .map(|route| name(route.written.get_ref()))
            .collect()
    }
}

fn name(route: &Route) -> String {
    format!("{} {}", route.method.get_ref(), route.path.get_ref())
}

/// Tells whether two routes answer the same requests.
fn is_same(one: &Route, other: &Route) -> bool {
    let matches = |route: &Route| {
        let matches = route.matches.as_ref().map(Spanned::get_ref);
        matches.map(|matches| (matches.query.clone(), matches.body.clone()))
    };
    name(one) == name(other) && matches(one) == matches(other)
}
