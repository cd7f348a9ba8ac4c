//! JSON text with templates in it -> [`Node`].

use std::iter::Peekable;
use std::sync::Arc;

use indexmap::IndexMap;

use super::body::{Binding, Branch, Loop, Member, Node, Phrase, Piece};
use super::error::DialectProblem;
use super::json::{self, Json, Line};
use super::names;
use super::place::{BodyError, Place, Site, Source};
use super::text::{Directive, Segment, Text};

/// How deep parts may include each other.
///
/// Chosen: no body is built of more layers, and each is a step of recursion.
const MAX_INCLUDES: usize = 16;

/// Compiles bodies; parts are compiled when a body first includes them.
pub(super) struct Compiler<'a> {
    sources: &'a IndexMap<String, Source<'a>>,
    parts: IndexMap<String, Arc<Node>>,
    /// The parts being compiled, outermost first.
    open: Vec<String>,
}

impl<'a> Compiler<'a> {
    pub(super) fn new(sources: &'a IndexMap<String, Source<'a>>) -> Self {
        Self {
            sources,
            parts: IndexMap::new(),
            open: Vec::new(),
        }
    }

    /// Compiles one body.
    ///
    /// # Errors
    /// The first slip in the order of the text.
    pub(super) fn compile(&mut self, source: &Source<'_>) -> Result<Node, BodyError> {
        let place = Place::top(source);
        let json =
            json::parse(source.text).map_err(|(line, problem)| place.error(line, problem))?;
        self.node(json, &place, false)
    }

    /// Compiles one part unless that was done already. `site` is where it is asked for.
    ///
    /// # Errors
    /// There is no such part, it includes itself, or the first slip in it.
    pub(super) fn part(&mut self, name: &str, site: &Site) -> Result<Arc<Node>, BodyError> {
        if let Some(part) = self.parts.get(name) {
            return Ok(Arc::clone(part));
        }
        let source = self.known_part(name).map_err(|problem| BodyError {
            site: site.clone(),
            problem: Box::new(problem),
        })?;
        self.open.push(name.to_owned());
        let node = self.compile(source);
        self.open.pop();
        let node = Arc::new(node?);
        self.parts.insert(name.to_owned(), Arc::clone(&node));
        Ok(node)
    }

    fn known_part(&self, name: &str) -> Result<&'a Source<'a>, DialectProblem> {
        if let Some(begin) = self.open.iter().position(|open| open == name) {
            let mut cycle = self.open[begin..].to_vec();
            cycle.push(name.to_owned());
            return Err(DialectProblem::IncludeCycle { cycle });
        }
        if self.open.len() >= MAX_INCLUDES {
            return Err(DialectProblem::Template {
                text: format!("{{% include '{name}' %}}"),
                message: format!("parts include each other more than {MAX_INCLUDES} deep"),
            });
        }
        self.sources
            .get(name)
            .ok_or_else(|| DialectProblem::NotAllowed {
                value: name.to_owned(),
                allowed: "the name of a part".to_owned(),
                hint: names::nearest(name, self.sources.keys().map(String::as_str)),
            })
    }

    fn node(&mut self, json: Json, place: &Place, in_array: bool) -> Result<Node, BodyError> {
        match json {
            Json::Plain(value) => Ok(Node::Literal(value)),
            Json::String(string) => self.string(&string, place),
            Json::Array(items) => items
                .into_iter()
                .enumerate()
                .map(|(index, item)| self.node(item, &place.down(&index.to_string()), true))
                .collect::<Result<_, _>>()
                .map(Node::Array),
            Json::Object(members) => self.object(members, place, in_array),
        }
    }

    fn string(&mut self, string: &Line<String>, place: &Place) -> Result<Node, BodyError> {
        match place.parse(string)? {
            Text::Plain(text) => Ok(Node::Literal(text.into())),
            Text::Typed(source) => place.expression(&source, string).map(Node::Typed),
            Text::Mixed(segments) => place.phrase(segments, string).map(Node::Mixed),
            Text::Directive(Directive::Include(part)) => self
                .part(&part, &place.site(string.line))
                .map(Node::Include),
            Text::Directive(_) => Err(place.wrong(
                string,
                "only `include` can be a value; the others are member names",
            )),
        }
    }

    fn object(
        &mut self,
        members: Vec<(Line<String>, Json)>,
        place: &Place,
        in_array: bool,
    ) -> Result<Node, BodyError> {
        let mut compiled = Vec::new();
        let mut plain_names: Vec<String> = Vec::new();
        let mut members = members.into_iter().peekable();
        while let Some((key, value)) = members.next() {
            let inside = place.down(&key.value);
            let member = match place.parse(&key)? {
                Text::Plain(name) => {
                    if plain_names.contains(&name) {
                        return Err(
                            inside.error(key.line, DialectProblem::DuplicateMember { name })
                        );
                    }
                    plain_names.push(name.clone());
                    Member::Plain {
                        name: Phrase(vec![Piece::Plain(name)]),
                        value: self.node(value, &inside, false)?,
                    }
                }
                Text::Typed(source) => Member::Plain {
                    name: place.phrase(vec![Segment::Expression(source)], &key)?,
                    value: self.node(value, &inside, false)?,
                },
                Text::Mixed(segments) => Member::Plain {
                    name: place.phrase(segments, &key)?,
                    value: self.node(value, &inside, false)?,
                },
                Text::Directive(directive) => {
                    self.directive(directive, (&key, value), &mut members, place)?
                }
            };
            compiled.push(member);
        }
        Ok(alone(compiled, in_array))
    }

    fn directive(
        &mut self,
        directive: Directive,
        (key, value): (&Line<String>, Json),
        rest: &mut Peekable<impl Iterator<Item = (Line<String>, Json)>>,
        place: &Place,
    ) -> Result<Member, BodyError> {
        let inside = place.down(&key.value);
        match directive {
            Directive::If(condition) => {
                let mut branches = vec![Branch {
                    condition: Some(place.expression(&condition, key)?),
                    value: self.node(value, &inside, false)?,
                }];
                self.further_branches(&mut branches, rest, place)?;
                Ok(Member::Choice(branches))
            }
            Directive::For { names, list } => Ok(Member::Loop(Loop {
                names,
                list: place.expression(&list, key)?,
                value: Box::new(self.node(value, &inside, false)?),
            })),
            Directive::With { name, value: bound } => Ok(Member::With(Binding {
                name,
                bound: place.expression(&bound, key)?,
                value: Box::new(self.node(value, &inside, false)?),
            })),
            Directive::Elif(_) | Directive::Else => {
                Err(place.wrong(key, "comes right after an `if` or `elif` member"))
            }
            Directive::Include(_) => {
                Err(place.wrong(key, "`include` is a value, not a member name"))
            }
        }
    }

    fn further_branches(
        &mut self,
        branches: &mut Vec<Branch>,
        rest: &mut Peekable<impl Iterator<Item = (Line<String>, Json)>>,
        place: &Place,
    ) -> Result<(), BodyError> {
        while let Some((key, _)) = rest.peek() {
            let condition = match place.parse(key)? {
                Text::Directive(Directive::Elif(condition)) => {
                    Some(place.expression(&condition, key)?)
                }
                Text::Directive(Directive::Else) => None,
                _ => return Ok(()),
            };
            let last = condition.is_none();
            let Some((key, value)) = rest.next() else {
                return Ok(());
            };
            branches.push(Branch {
                condition,
                value: self.node(value, &place.down(&key.value), false)?,
            });
            if last {
                return Ok(());
            }
        }
        Ok(())
    }
}

/// Puts a lone choice, binding or (inside an array) loop in the place of the object round it.
fn alone(mut members: Vec<Member>, in_array: bool) -> Node {
    if members.len() > 1 {
        return Node::Object(members);
    }
    match members.pop() {
        Some(Member::Choice(branches)) => Node::Choice(branches),
        Some(Member::With(binding)) => Node::With(binding),
        Some(Member::Loop(each)) if in_array => Node::Elements(each),
        Some(member) => Node::Object(vec![member]),
        None => Node::Object(Vec::new()),
    }
}
