//! One line of the day book: who did what when, and how the texts changed.

use crate::splice::Splice;
use serde::{Deserialize, Serialize};

/// Schema of the lines that this version writes, and the greatest that it reads.
pub(crate) const SCHEMA: u64 = 1;

/// One act in the day book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    pub(crate) schema: u64,
    /// Number of the line, from 0 without a gap.
    pub seq: u64,
    /// When, RFC 3339 in UTC to the millisecond.
    pub when: String,
    /// Who, as given by whoever opened the dossier.
    pub who: String,
    /// The act in a few words.
    pub act: String,
    /// What changed, for people.
    pub changes: Vec<Change>,
    /// Line that this one takes back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub undoes: Option<u64>,
    /// Line that this one does again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub redoes: Option<u64>,
    /// The texts with which the day book begins; cannot be taken back.
    #[serde(default, skip_serializing_if = "is_false")]
    pub begins: bool,
    /// The change was made by another program and noticed on opening.
    #[serde(default, skip_serializing_if = "is_false")]
    pub outside: bool,
    pub(crate) splices: Vec<Splice>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the form that serde calls")]
fn is_false(value: &bool) -> bool {
    !value
}

/// One value that changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// Where, such as "camera side, speed".
    pub place: String,
    /// What stood there; `None` when nothing did.
    pub old: Option<String>,
    /// What stands there now; `None` when nothing does.
    pub new: Option<String>,
}

impl Change {
    pub(crate) fn inverse(&self) -> Self {
        Self { place: self.place.clone(), old: self.new.clone(), new: self.old.clone() }
    }
}
