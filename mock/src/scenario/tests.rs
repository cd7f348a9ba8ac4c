//! Tests of the whole way from text to plan, by what they claim about.

mod builtin;
mod includes;
mod keys;
mod programs;
mod properties;
mod schema;
mod slips;

use std::io::{self, BufRead};

use super::Files;

/// A scenario that includes nothing and uses what the first version of the language had.
const WHOLE: &str = include_str!("tests/whole.toml");
/// A scenario with every key at least once; it includes a printer and reads [`CLIP`].
const EVERY_KEY: &str = include_str!("tests/every-key.toml");
/// A part program with one line that is broken, and text after its end.
const CLIP: &str = "G21\nG90\nM83\nM104 S210\nG28\nM109 S210\nG1 X10 Y10 Z0.2 F3000\n\
    G1 X60 E2.5 F1800\nG1 X^\nG1 Y60 E2.5\nM2\n; not carried out any more\n";
/// Where [`EVERY_KEY`] is and has what it asks for.
const EVERY_KEY_SHELF: Shelf<'_> = Shelf(&[("dir/parts/clip.gcode", CLIP)]);

/// Lends files from memory.
struct Shelf<'a>(&'a [(&'a str, &'a str)]);

impl Files for Shelf<'_> {
    fn open(&self, path: &str) -> io::Result<Box<dyn BufRead>> {
        let found = self.0.iter().find(|(name, _)| *name == path);
        match found {
            Some((_, text)) => Ok(Box::new(io::Cursor::new((*text).to_owned()))),
            None => Err(io::Error::new(io::ErrorKind::NotFound, "no such file")),
        }
    }
}

/// Gives a text with one piece replaced; the piece must be there, once.
#[track_caller]
fn with(text: &str, replace: &str, with: &str) -> String {
    assert_eq!(
        text.matches(replace).count(),
        1,
        "`{replace}` is there once"
    );
    text.replace(replace, with)
}
