//! Files that are replaced as a whole, or not touched.

use std::fs::{File, Permissions};
use std::io::Write;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use tempfile::NamedTempFile;

/// Is a file that gets its name only once it is whole.
pub(super) struct WholeFile<'a> {
    name: &'a Path,
    temporary: NamedTempFile,
}

impl<'a> WholeFile<'a> {
    /// Opens a file in the same folder, because a name can be given only within one file system.
    ///
    /// # Errors
    /// What the system says; and for a name that is a folder, a device or a pipe, which would be
    /// replaced by a file.
    pub(super) fn beside(name: &'a Path) -> std::io::Result<Self> {
        if std::fs::metadata(name).is_ok_and(|found| !found.is_file()) {
            return Err(std::io::Error::other("it is there, and no regular file"));
        }
        let folder = match name.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        // First the folder itself, for the system's own words about it.
        std::fs::metadata(folder)?;
        let temporary = tempfile::Builder::new()
            .prefix(".coldbed-")
            // As any new file: readable as far as the user's mask lets it be.
            .permissions(Permissions::from_mode(0o666))
            .tempfile_in(folder)
            // Its own words name a temporary file that nobody asked for.
            .map_err(|error| std::io::Error::from(error.kind()))?;
        Ok(Self { name, temporary })
    }

    /// Gives the name the file will have.
    pub(super) fn name(&self) -> &'a Path {
        self.name
    }

    pub(super) fn as_file_mut(&mut self) -> &mut File {
        self.temporary.as_file_mut()
    }

    pub(super) fn put(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.as_file_mut().write_all(bytes)
    }

    /// Gives the file its name.
    pub(super) fn finish(self) -> std::io::Result<()> {
        self.temporary
            .persist(self.name)
            .map_err(|error| error.error)?;
        Ok(())
    }
}
