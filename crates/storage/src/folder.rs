//! The data folder: whose it is, what it lies on, how much room is left.

use crate::error::{OpenError, StorageError};
use rustix::fs::FsWord;
use std::fs::{DirBuilder, File, OpenOptions, Permissions, TryLockError};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

/// The database inside the data folder.
pub const DATABASE: &str = "coolant.db";
pub(crate) const LOCK: &str = "data.lock";

/// File systems on which the write-ahead log cannot work: it shares memory between programs, which
/// two machines do not have. A file system in user space does not tell whether it is local, so it
/// is refused too: losing a record is worse than moving a folder.
const NOT_LOCAL: [(FsWord, &str); 8] = [
    (0x6969, "NFS"),
    (0x517b, "SMB"),
    (0xff53_4d42, "CIFS"),
    (0xfe53_4d42, "SMB2"),
    (0x5346_414f, "AFS"),
    (0x00c3_6400, "Ceph"),
    (0x0102_1997, "9P"),
    (0x6573_5546, "a file system in user space (FUSE)"),
];

/// A data folder held by this process alone, until it is dropped.
#[derive(Debug)]
pub(crate) struct Folder {
    path: PathBuf,
    _lock: File,
}

impl Folder {
    /// Takes the folder for this process; it is made if it is not there.
    pub(crate) fn take(path: &Path) -> Result<Self, OpenError> {
        let not_usable = |error: std::io::Error| OpenError::NotUsable {
            path: path.display().to_string(),
            what: error.to_string(),
        };
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(path)
            .map_err(not_usable)?;
        refuse_network(path)?;
        // The record names people by id and holds every note: nobody else on the machine reads it.
        let mode = std::fs::metadata(path)
            .map_err(not_usable)?
            .permissions()
            .mode();
        if mode & 0o077 != 0 {
            std::fs::set_permissions(path, Permissions::from_mode(0o700)).map_err(not_usable)?;
        }
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .mode(0o600)
            .open(path.join(LOCK))
            .map_err(not_usable)?;
        match lock.try_lock() {
            Ok(()) => Ok(Self {
                path: path.to_owned(),
                _lock: lock,
            }),
            Err(TryLockError::WouldBlock) => {
                Err(OpenError::AlreadyServed(path.display().to_string()))
            }
            Err(TryLockError::Error(error)) => Err(not_usable(error)),
        }
    }

    pub(crate) fn database(&self) -> PathBuf {
        self.path.join(DATABASE)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }
}

fn refuse_network(path: &Path) -> Result<(), OpenError> {
    let found = rustix::fs::statfs(path).map_err(|error| OpenError::NotUsable {
        path: path.display().to_string(),
        what: error.to_string(),
    })?;
    match not_local(found.f_type) {
        Some(kind) => Err(OpenError::NotALocalDisk {
            path: path.display().to_string(),
            kind,
        }),
        None => Ok(()),
    }
}

fn not_local(magic: FsWord) -> Option<&'static str> {
    // Some kernels hand the number over with its sign stretched.
    let magic = magic & 0xffff_ffff;
    NOT_LOCAL
        .into_iter()
        .find_map(|(known, kind)| (known == magic).then_some(kind))
}

/// Bytes a common user may still write on the disk `path` lies on.
pub(crate) fn free_bytes(path: &Path) -> std::io::Result<u64> {
    let found = rustix::fs::statvfs(path)?;
    Ok(found.f_bavail.saturating_mul(found.f_frsize))
}

/// Makes a rename or a new file last: the entry in its folder is written through.
pub(crate) fn sync_parent(file: &Path) -> Result<(), StorageError> {
    let parent = match file.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    File::open(parent)
        .and_then(|folder| folder.sync_all())
        .map_err(|error| StorageError::file(parent, error))
}

/// The name a file has until it is whole.
pub(crate) fn part_of(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(".part");
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::not_local;

    #[test]
    fn network_and_user_space_file_systems_are_told_by_their_number() {
        assert_eq!(not_local(0x6969), Some("NFS"));
        assert_eq!(not_local(0xff53_4d42), Some("CIFS"));
        assert_eq!(not_local(-0x00ac_b2be), Some("CIFS"));
        assert_eq!(not_local(0xef53), None);
        assert_eq!(not_local(0x0102_1994), None);
    }
}
