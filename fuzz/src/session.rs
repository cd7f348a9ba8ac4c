//! The text of a session.

use std::time::Duration;

use coldbed_session::redact::{Rules, scrub};
use coldbed_session::replay::Routes;
use coldbed_session::{Content, SessionFile, diff, har};

/// Reads a session. What is read is written and read again as it was, by itself and as an archive; is
/// cut, scrubbed and prepared for a replay; and does not differ from itself. What is not says so.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    let session = match SessionFile::read(text) {
        Ok(file) => file.session,
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    super::assert_read_again(&session);
    let archive = har::export(&session).text();
    let archived = har::import(&archive, None);
    let archived = archived.expect("an archive of our own is read");
    assert_eq!(archived.session, session);
    let differences = diff::diff(&session, &session);
    assert!(differences.is_empty(), "{differences:?}");
    for answer in session.exchanges.iter().filter_map(|one| one.answer()) {
        if let Content::Whole { raw: None, .. } = &answer.content {
            let (head, all) = (answer.head_bytes(), answer.bytes());
            assert!(all.starts_with(&head) || head.starts_with(&all));
        }
    }
    let known = Routes::of(&session).known();
    assert!(known.len() <= session.exchanges.len());
    let half = session.length() / 2;
    for part in [
        session.cut(Duration::ZERO, half),
        scrub(&session, &Rules::default()),
    ] {
        super::assert_read_again(&part);
    }
}

/// Gives a session with lines of most kinds.
pub fn seeds() -> Vec<Vec<u8>> {
    const SAMPLE: &str = include_str!("../../harness/src/commands/session/sample.jsonl");
    // Short ones too: a change in them hits something sooner.
    let head = SAMPLE.lines().next().unwrap_or_default();
    let one = |from: &str| {
        let lines = SAMPLE.lines().skip_while(|line| !line.contains(from));
        let lines: Vec<&str> = lines.take(3).collect();
        format!("{head}\n{}\n", lines.join("\n"))
    };
    [
        "\"connection\":1}",
        "\"connection\":2}",
        "\"connection\":3}",
    ]
    .map(one)
    .into_iter()
    .chain([SAMPLE.to_owned()])
    .map(String::into_bytes)
    .collect()
}
