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
        // Bytes are counted, not letters, as a day's marks are long; then whole letters are kept together.
        let alike = |(a, b): &(u8, u8)| a == b;
        let mut start = old.bytes().zip(new.bytes()).take_while(alike).count();
        while !old.is_char_boundary(start) || !new.is_char_boundary(start) {
            start -= 1;
        }
        let (old_rest, new_rest) = (&old[start..], &new[start..]);
        let mut end = old_rest.bytes().rev().zip(new_rest.bytes().rev()).take_while(alike).count();
        while !old_rest.is_char_boundary(old_rest.len() - end)
            || !new_rest.is_char_boundary(new_rest.len() - end)
        {
            end -= 1;
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_splice_never_cuts_a_letter() {
        // "ä" is c3 a4, "ü" is c3 bc, "¤" is c2 a4: they share their first or their last byte.
        for (old, new) in
            [("xäy", "xüy"), ("xäy", "x¤y"), ("ä", ""), ("", "ü"), ("aaa", "aa"), ("äü", "äüäü")]
        {
            let splice = Splice::between("f", old, new).unwrap();
            let mut texts = Texts::from([("f".to_owned(), old.to_owned())]);
            splice.apply(&mut texts).unwrap();
            assert_eq!(texts["f"], new);
            splice.inverse().apply(&mut texts).unwrap();
            assert_eq!(texts["f"], old);
        }
        assert_eq!(Splice::between("f", "same", "same"), None);
    }
}
