//! The file that tells clients which authority to trust.

use std::fs::{File, OpenOptions, Permissions};
use std::io::{ErrorKind, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

/// Begins every such file: text before the first certificate is allowed (RFC 7468 section 2).
const MARK: &str = "coldbed serve: authority of a mock printer host, made anew at each start\n";

/// Writes the authority's certificate where everybody may read it.
///
/// A file that this command has not written is left alone: it may be somebody's key.
///
/// # Errors
/// In words: the file is another's, or cannot be written.
pub(super) fn write(file: &Path, pem: &str) -> Result<(), String> {
    let cannot = |error| format!("cannot write `{}`: {error}", file.display());
    match File::open(file) {
        Ok(known) => {
            let mut begin = String::new();
            let read = known
                .take(MARK.len() as u64)
                .read_to_string(&mut begin)
                .is_ok();
            if !read || begin != MARK {
                return Err(format!(
                    "`{}` was not written by `--tls` of `coldbed` and is left as it is [name \
                     another file]",
                    file.display()
                ));
            }
        }
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(error) => return Err(cannot(error)),
    }
    let mut open = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .open(file)
        .map_err(cannot)?;
    open.set_permissions(Permissions::from_mode(0o644))
        .map_err(cannot)?;
    open.write_all(format!("{MARK}{pem}").as_bytes())
        .map_err(cannot)
}
