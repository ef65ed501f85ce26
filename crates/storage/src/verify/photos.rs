//! The bytes of photos, held against what the record says of them.

use super::report::{Class, Report};
use crate::connection;
use crate::error::StorageError;
use crate::photo::{self, Found, Photos};
use crate::view::Entry;
use domain::fact::What;
use domain::ids::FactKey;
use sqlx::Connection;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What the record says of photos.
#[derive(Debug, Default)]
pub(super) struct Said {
    added: BTreeMap<FactKey, (i64, String)>,
    removed: BTreeSet<FactKey>,
}

impl Said {
    pub(super) fn note(&mut self, entry: &Entry) {
        match &entry.recorded.fact.what {
            What::Photo(photo) => {
                let added = (entry.seq, photo.digest.clone());
                self.added.insert(entry.recorded.key, added);
            }
            What::PhotoRemoved(removed) => {
                self.removed.insert(removed.photo);
            }
            _ => {}
        }
    }

    /// Looks at every file: those of photos that stand must be whole, the others gone.
    pub(super) async fn check(&self, file: &Path, report: &mut Report) -> Result<(), StorageError> {
        let photos = Photos::beside(file);
        let stands = |key: &FactKey| !self.removed.contains(key);
        let standing: BTreeSet<&String> = self
            .added
            .iter()
            .filter(|(key, _)| stands(key))
            .map(|(_, (_, digest))| digest)
            .collect();
        for (key, (seq, digest)) in &self.added {
            let found = photos.look(digest)?;
            let wrong = match (stands(key), found) {
                (true, Found::Missing) if !removed_since(file, *seq).await? => "is missing",
                (true, Found::Changed) => "differs from its digest",
                (false, Found::Whole | Found::Changed) if !standing.contains(digest) => {
                    "was taken out of sight and is still there"
                }
                _ => continue,
            };
            report.add(Class::Photo, Some(*seq), format!("photo {digest} {wrong}"));
        }
        Ok(())
    }
}

/// A server that runs may have let go of it after the walk over the record began.
async fn removed_since(file: &Path, seq: i64) -> Result<bool, StorageError> {
    let mut live = connection::reader(file).await?;
    let removed = photo::is_removed(&mut live, seq).await;
    live.close().await?;
    removed
}
