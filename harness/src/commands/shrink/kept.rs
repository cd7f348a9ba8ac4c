//! What was tried, kept so that another run can go on.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

use coldbed_session::Session;
use serde::{Deserialize, Serialize};

/// Is a file of results: its first line says of what.
pub(super) struct Kept {
    file: File,
    known: HashMap<String, bool>,
}

#[derive(Serialize, Deserialize, PartialEq)]
#[serde(rename_all = "kebab-case")]
struct Head {
    /// The command and what failing is.
    what: String,
    /// A digest of the session.
    session: String,
}

#[derive(Serialize, Deserialize)]
struct Result {
    candidate: String,
    fails: bool,
}

impl Kept {
    /// Opens the file beside the one that is to be written. Results of another session or another command
    /// are thrown away.
    pub(super) fn open(to: &Path, what: &str, session: &Session, fresh: bool) -> io::Result<Self> {
        let mut name = to.as_os_str().to_owned();
        name.push(".trials");
        let digest = xxhash_rust::xxh3::xxh3_128(session.text().as_bytes());
        let head = Head {
            what: what.to_owned(),
            session: format!("{digest:032x}"),
        };
        let text = if fresh {
            String::new()
        } else {
            std::fs::read_to_string(&name).unwrap_or_default()
        };
        let mut lines = text.lines();
        let is_same = lines
            .next()
            .and_then(|line| serde_json::from_str::<Head>(line).ok())
            == Some(Head {
                what: head.what.clone(),
                session: head.session.clone(),
            });
        if !is_same {
            let mut file = File::create(&name)?;
            writeln!(file, "{}", serde_json::to_string(&head)?)?;
            return Ok(Self {
                file,
                known: HashMap::new(),
            });
        }
        // A last line that is torn is tried again.
        let known = lines
            .filter_map(|line| serde_json::from_str::<Result>(line).ok())
            .map(|result| (result.candidate, result.fails))
            .collect();
        let file = OpenOptions::new().append(true).open(&name)?;
        Ok(Self { file, known })
    }

    /// Gives the results of earlier runs.
    pub(super) fn known(&self) -> HashMap<String, bool> {
        self.known.clone()
    }

    /// Adds a result.
    pub(super) fn add(&mut self, candidate: &str, fails: bool) -> io::Result<()> {
        let result = Result {
            candidate: candidate.to_owned(),
            fails,
        };
        self.file
            .write_all(format!("{}\n", serde_json::to_string(&result)?).as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_are_kept_for_the_same_and_for_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let to = folder.path().join("small.jsonl");
        let open = |what: &str, fresh| Kept::open(&to, what, &Session::default(), fresh).unwrap();
        open("a", false).add("x", true).unwrap();
        assert_eq!(
            open("a", false).known(),
            HashMap::from([("x".to_owned(), true)])
        );
        assert!(open("a", true).known().is_empty());
        open("a", false).add("x", true).unwrap();
        assert!(open("b", false).known().is_empty());
    }
}
