//! Value and marks -> bytes.

use std::collections::BTreeMap;

use serde_json::{Map, Value};

use super::{Layout, Mark, NumberForm, text};
use crate::pointer;

/// Writes one body.
#[derive(Debug)]
pub(super) struct Writer<'a> {
    marks: &'a BTreeMap<String, Mark>,
    out: Vec<u8>,
    /// The pointer to what is being written.
    path: String,
}

/// Says how what is being written is written.
#[derive(Debug, Clone, Copy, Default)]
struct Style {
    layout: Layout,
    numbers: NumberForm,
    letters_escaped: bool,
    non_ascii_escaped: bool,
    level: usize,
}

impl Style {
    fn with(self, mark: &Mark) -> Self {
        Self {
            layout: mark.layout.unwrap_or(self.layout),
            numbers: mark.numbers.unwrap_or(self.numbers),
            letters_escaped: self.letters_escaped || mark.letters_escaped,
            non_ascii_escaped: self.non_ascii_escaped || mark.non_ascii_escaped,
            level: self.level,
        }
    }

    fn inside(self) -> Self {
        Self {
            level: self.level + 1,
            ..self
        }
    }
}

impl<'a> Writer<'a> {
    pub(super) fn new(marks: &'a BTreeMap<String, Mark>) -> Self {
        Self {
            marks,
            out: Vec::new(),
            path: String::new(),
        }
    }

    pub(super) fn write(mut self, body: &Value) -> Vec<u8> {
        self.value(body, Style::default());
        self.out
    }

    fn value(&mut self, value: &Value, style: Style) {
        let mark = self.marks.get(&self.path);
        if let Some(bytes) = mark.and_then(|mark| mark.instead.as_ref()) {
            self.out.extend(bytes);
            return;
        }
        let style = mark.map_or(style, |mark| style.with(mark));
        match value {
            Value::Null => self.out.extend(b"null"),
            Value::Bool(value) => self.out.extend(value.to_string().bytes()),
            Value::Number(number) => self.out.extend(style.numbers.write(number).bytes()),
            Value::String(text) => {
                self.text(text, style, mark.map_or(&[], |mark| &mark.in_text));
            }
            Value::Array(elements) => self.array(elements, style, mark),
            Value::Object(members) => self.object(members, style, mark),
        }
    }

    fn text(&mut self, text: &str, style: Style, more: &[u8]) {
        let escaped = text::escaped(text, style.letters_escaped, style.non_ascii_escaped);
        self.out.push(b'"');
        self.out.extend(escaped.bytes());
        self.out.extend(more);
        self.out.push(b'"');
    }

    fn array(&mut self, elements: &[Value], style: Style, mark: Option<&Mark>) {
        self.out.push(b'[');
        for (index, element) in elements.iter().enumerate() {
            self.begin_item(index, style);
            self.element(index, element, style);
        }
        self.close(b']', elements.len(), style, mark);
    }

    fn object(&mut self, members: &Map<String, Value>, style: Style, mark: Option<&Mark>) {
        self.out.push(b'{');
        let mut count = 0;
        for (name, bytes) in mark.iter().flat_map(|mark| &mark.first) {
            self.begin_member(&mut count, name, &[], style);
            self.out.extend(bytes);
        }
        for (name, value) in members {
            self.member(&mut count, name, value, style);
        }
        for (name, bytes) in mark.iter().flat_map(|mark| &mark.last) {
            self.begin_member(&mut count, name, &[], style);
            self.out.extend(bytes);
        }
        self.close(b'}', count, style, mark);
    }

    fn member(&mut self, count: &mut usize, name: &str, value: &Value, style: Style) {
        let end = self.path.len();
        self.path.push('/');
        self.path.push_str(&pointer::escape(name));
        let in_name = self
            .marks
            .get(&self.path)
            .map_or(&[][..], |mark| &mark.in_name);
        self.begin_member(count, name, in_name, style);
        self.value(value, style.inside());
        self.path.truncate(end);
    }

    fn element(&mut self, index: usize, value: &Value, style: Style) {
        let end = self.path.len();
        self.path.push('/');
        self.path.push_str(&index.to_string());
        self.value(value, style.inside());
        self.path.truncate(end);
    }

    fn begin_member(&mut self, count: &mut usize, name: &str, more: &[u8], style: Style) {
        self.begin_item(*count, style);
        *count += 1;
        self.text(name, style, more);
        match style.layout {
            Layout::Tight => self.out.push(b':'),
            Layout::Indented(_) => self.out.extend(b": "),
            Layout::Spaced(blank) => self.out.extend([blank, b':', blank]),
        }
    }

    fn begin_item(&mut self, index: usize, style: Style) {
        if index > 0 {
            if let Layout::Spaced(blank) = style.layout {
                self.out.push(blank);
            }
            self.out.push(b',');
        }
        self.gap(style.inside());
    }

    fn close(&mut self, bracket: u8, items: usize, style: Style, mark: Option<&Mark>) {
        if mark.is_some_and(|mark| mark.trailing_comma) {
            self.out.push(b',');
        }
        if items > 0 {
            self.gap(style);
        }
        self.out.push(bracket);
    }

    fn gap(&mut self, style: Style) {
        match style.layout {
            Layout::Tight => {}
            Layout::Indented(spaces) => {
                self.out.push(b'\n');
                let end = self.out.len() + spaces * style.level;
                self.out.resize(end, b' ');
            }
            Layout::Spaced(blank) => self.out.push(blank),
        }
    }
}
