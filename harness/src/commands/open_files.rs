//! How many files and sockets the process may have open.

use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};

/// Raises the limit to what the system allows without further rights: each client needs one.
///
/// Common practice of servers. The usual limit of 1024 is kept low for programs that wait with
/// `select`, which ours does not, and there is no other program that would inherit it: not for a
/// command that starts any. Where it fails the host serves as many as it may.
pub(super) fn raise_limit() {
    let limit = getrlimit(Resource::Nofile);
    let raised = Rlimit {
        current: limit.maximum,
        ..limit
    };
    let _ = setrlimit(Resource::Nofile, raised);
}

/// What one run needs: a listener, its watcher's connections and their ends here, its pipes, and some to
/// spare (own choice: twice what was counted).
const FOR_EACH_RUN: u64 = 12;

/// What the program needs for itself.
const FOR_ITSELF: u64 = 64;

/// Gives how many runs there may be at once, so many at most: as many as the limit of open files has
/// room for. The limit itself is left alone, since watchers inherit it.
pub(super) fn side_by_side(most: usize) -> usize {
    let limit = getrlimit(Resource::Nofile).current.unwrap_or(u64::MAX);
    let room = limit.saturating_sub(FOR_ITSELF) / FOR_EACH_RUN;
    most.min(usize::try_from(room).unwrap_or(usize::MAX)).max(1)
}
