//! What the fuzzer drives: functions of bytes that must come back, whatever the bytes are.
//!
//! Each target is a module with `target`, which panics where an invariant is broken, and `seeds`,
//! made from the files that come with the program. The fuzzer's binaries call the targets; so does
//! `session/tests/fuzz.rs`, which needs no more than the stable toolchain.

use coldbed_session::{Session, SessionFile};

pub mod archive;
pub mod capture;
pub mod dialect;
pub mod drift;
pub mod part_program;
mod printing;
pub mod request;
pub mod scenario;
pub mod session;

/// Is one target.
#[derive(Debug)]
pub struct Target {
    /// Its name, that of its binary too.
    pub name: &'static str,
    /// Looks at bytes.
    pub run: fn(&[u8]),
    /// Gives bytes to begin with.
    pub seeds: fn() -> Vec<Vec<u8>>,
}

/// Lists the targets.
pub const TARGETS: &[Target] = &[
    Target {
        name: "scenario",
        run: scenario::target,
        seeds: scenario::seeds,
    },
    Target {
        name: "dialect",
        run: dialect::target,
        seeds: dialect::seeds,
    },
    Target {
        name: "part_program",
        run: part_program::target,
        seeds: part_program::seeds,
    },
    Target {
        name: "request",
        run: request::target,
        seeds: request::seeds,
    },
    Target {
        name: "drift",
        run: drift::target,
        seeds: drift::seeds,
    },
    Target {
        name: "session",
        run: session::target,
        seeds: session::seeds,
    },
    Target {
        name: "archive",
        run: archive::target,
        seeds: archive::seeds,
    },
    Target {
        name: "capture",
        run: capture::target,
        seeds: capture::seeds,
    },
];

/// The longest input that is looked at, in bytes: the built-in files have a third of that.
const MOST_BYTES: usize = 64 * 1024;

/// Holds that a session that is written is read again as it was.
fn assert_read_again(session: &Session) {
    let read = SessionFile::read(&session.text()).expect("what was written is read");
    assert_eq!(read.session, *session);
    assert_eq!(read.torn_bytes, 0);
}

/// Gives bytes as text, if they are text of a size that anybody would write.
fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes)
        .ok()
        .filter(|text| text.len() <= MOST_BYTES)
}
