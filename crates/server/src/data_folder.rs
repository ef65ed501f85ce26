//! The folder that holds everything a server keeps.

use std::{
    fs::{self, DirBuilder},
    io,
    os::unix::fs::DirBuilderExt,
    path::{Path, PathBuf},
};

use crate::exit::Failure;

/// Below this much free space no work is taken: a full disk could not keep it.
const ROOM_NEEDED: u64 = 256 * 1024 * 1024;

#[derive(Clone, Debug)]
pub(crate) struct DataFolder(PathBuf);

impl DataFolder {
    /// Makes the folder if it is not there (readable by its owner only) and sees that it can be written.
    pub(crate) fn open(path: &Path) -> Result<Self, Failure> {
        let not_usable = |cause: &io::Error| {
            Failure::not_writable(format!(
                "the data folder {} cannot be written ({cause}); give the user that runs the server the right to \
                 write there, or name another folder with --data",
                path.display()
            ))
        };
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(path)
            .map_err(|cause| not_usable(&cause))?;
        let path = fs::canonicalize(path).map_err(|cause| not_usable(&cause))?;
        let probe = path.join(".write-probe");
        fs::write(&probe, b"")
            .and_then(|()| fs::remove_file(&probe))
            .map_err(|cause| not_usable(&cause))?;
        Ok(Self(path))
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    /// Whether the disk has room for more work.
    pub(crate) fn ready(&self) -> Result<(), String> {
        let disk = rustix::fs::statvfs(&self.0).map_err(|cause| {
            format!(
                "the data folder {} cannot be looked at: {cause}",
                self.0.display()
            )
        })?;
        let free = disk.f_bavail.saturating_mul(disk.f_frsize);
        if free < ROOM_NEEDED {
            return Err(format!(
                "the disk of {} has {} MiB free, less than the {} MiB needed; free some space",
                self.0.display(),
                free / (1024 * 1024),
                ROOM_NEEDED / (1024 * 1024)
            ));
        }
        Ok(())
    }
}
