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
