//! How much room there is.

use std::path::Path;

/// Gives how many bytes of the file system that a path is on are free to this user; `None` where that
/// cannot be told.
pub(super) fn free_bytes(path: &Path) -> Option<u64> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let told = rustix::fs::statvfs(folder).ok()?;
    Some(told.f_bavail.saturating_mul(told.f_frsize))
}
