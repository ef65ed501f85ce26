//! What a verification found.

use crate::record::{Head, NO_HASH};
use domain::ids::PlaceId;

/// What a finding is about, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Class {
    /// A row of the record cannot be read.
    Unreadable,
    /// A row is missing.
    Gap,
    /// A row does not fit its hash or the hash before.
    Chain,
    /// A body cannot be read, is not canonical, or its columns differ from it.
    Body,
    /// A text or a stored answer is missing, changed or left over.
    Beside,
    /// The bytes of a photo are missing, changed or left over.
    Photo,
    /// A view is not what the record gives.
    View,
    /// A named check of the book does not hold.
    Check,
    /// The schema is not this program's.
    Schema,
    /// SQLite finds the file damaged.
    File,
}

/// One thing that is wrong.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Finding {
    /// What it is about.
    pub class: Class,
    /// The fact, where one can be named.
    pub seq: Option<i64>,
    /// In words.
    pub what: String,
}

/// What a verification found.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Report {
    /// Facts looked at.
    pub facts: i64,
    /// The head as it is in the file. Only a head noted elsewhere tells whether rows are missing
    /// at the end, or all of it was written anew.
    pub head: Head,
    /// What is wrong, the gravest first.
    pub findings: Vec<Finding>,
    /// Vessels that nobody dipped lately (`dip_is_fresh`); not a fault.
    pub stale_dips: Vec<PlaceId>,
    /// The views could be read, so that the book's sums and the dips were looked at.
    pub balances_checked: bool,
    /// A late fact is being worked out again, so the views that lag were not compared.
    pub views_lag: bool,
}

impl Default for Report {
    fn default() -> Self {
        Self {
            facts: 0,
            head: Head {
                seq: 0,
                hash: NO_HASH,
            },
            findings: Vec::new(),
            stale_dips: Vec::new(),
            balances_checked: false,
            views_lag: false,
        }
    }
}

impl Report {
    /// Whether nothing is wrong.
    pub fn is_good(&self) -> bool {
        self.findings.is_empty()
    }

    /// Whether the record and all that is worked out from it is good, whatever became of the bytes
    /// of photos.
    pub fn record_is_good(&self) -> bool {
        self.photo_faults().count() == self.findings.len()
    }

    /// What is wrong with the bytes of photos, in words.
    pub fn photo_faults(&self) -> impl Iterator<Item = &str> {
        let findings = self.findings.iter();
        findings
            .filter(|finding| finding.class == Class::Photo)
            .map(|finding| finding.what.as_str())
    }

    /// The first fact something is wrong with.
    pub fn first_bad(&self) -> Option<&Finding> {
        self.findings
            .iter()
            .filter(|finding| finding.seq.is_some())
            .min_by_key(|finding| finding.seq)
            .or_else(|| self.findings.first())
    }

    pub(super) fn add(&mut self, class: Class, seq: Option<i64>, what: String) {
        self.findings.push(Finding { class, seq, what });
    }
}
