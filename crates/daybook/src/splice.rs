//! The least change from one text to another: where it starts, what stood there, what stands there now.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One file's change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Splice {
    /// File, from the dossier's folder.
    pub(crate) file: String,
    /// Byte at which it starts.
    pub(crate) at: usize,
    /// Text there before.
    pub(crate) old: String,
    /// Text there after.
    pub(crate) new: String,
    /// BLAKE3 of the whole text before.
    pub(crate) before: String,
    /// BLAKE3 of the whole text after.
    pub(crate) after: String,
}

/// Texts by file; a file that does not exist has none or an empty one.
pub(crate) type Texts = BTreeMap<String, String>;

impl Splice {
    /// The change of `file` from `old` to `new`; `None` when they are the same.
    pub(crate) fn between(file: &str, old: &str, new: &str) -> Option<Self> {
        if old == new {
            return None;
        }
        let alike = |(a, b): &(char, char)| a == b;
        let start: usize = old.chars().zip(new.chars()).take_while(alike).map(|(a, _)| a.len_utf8()).sum();
        let (old_rest, new_rest) = (&old[start..], &new[start..]);
        let backwards = old_rest.chars().rev().zip(new_rest.chars().rev());
        let end: usize = backwards.take_while(alike).map(|(a, _)| a.len_utf8()).sum();
        Some(Self {
            file: file.to_owned(),
            at: start,
            old: old_rest[..old_rest.len() - end].to_owned(),
            new: new_rest[..new_rest.len() - end].to_owned(),
            before: hash(old),
            after: hash(new),
        })
    }

    /// The change back.
    pub(crate) fn inverse(&self) -> Self {
        Self {
            file: self.file.clone(),
            at: self.at,
            old: self.new.clone(),
            new: self.old.clone(),
            before: self.after.clone(),
            after: self.before.clone(),
        }
    }

    /// Makes the change in `texts`; `None`, with nothing changed, when the text is not the one it was made for.
    pub(crate) fn apply(&self, texts: &mut Texts) -> Option<()> {
        let text = texts.get(&self.file).map_or("", String::as_str);
        let end = self.at.checked_add(self.old.len())?;
        if text.get(self.at..end)? != self.old {
            return None;
        }
        let made = format!("{}{}{}", &text[..self.at], self.new, text.get(end..)?);
        if hash(&made) != self.after {
            return None;
        }
        texts.insert(self.file.clone(), made);
        Some(())
    }
}

pub(crate) fn hash(text: &str) -> String {
    blake3::hash(text.as_bytes()).to_hex().to_string()
}
