//! Day book against files: which side counts for each file, and what is said about it. Writes nothing.

use crate::found::{Files, Standing, standing};
use crate::journal::Kept;
use crate::open::note;
use crate::splice::{Splice, Texts};
use crate::workbook::OpeningNote;
use std::collections::BTreeSet;

/// The outcome, before anything is written.
pub(crate) struct Settled {
    /// Text of every file that counts.
    pub(crate) texts: Texts,
    /// What differs from the day book, to be entered there.
    pub(crate) foreign: Vec<Splice>,
    /// Damaged files with what shows it.
    pub(crate) damaged: Vec<(String, String)>,
    /// What was noticed.
    pub(crate) notes: Vec<OpeningNote>,
}

/// Settles every file. `safe` holds the texts to fall back on: those of the day book, or of its sound part.
pub(crate) fn settle(kept: &Kept, safe: &Texts, found: &Files, dossier: &str) -> Settled {
    let names: BTreeSet<&String> = kept.texts.keys().chain(safe.keys()).chain(found.keys()).collect();
    let mut settled =
        Settled { texts: Texts::new(), foreign: Vec::new(), damaged: Vec::new(), notes: Vec::new() };
    for file in names {
        let known = kept.texts.get(file).map_or("", String::as_str);
        let fallback = safe.get(file).map_or("", String::as_str);
        let bytes = found.get(file).map(Vec::as_slice);
        let text = match standing((file, bytes), kept, fallback, file == dossier) {
            Standing::Same => known.to_owned(),
            Standing::Outside(text) => {
                if !kept.entries.is_empty() {
                    settled.notes.push(note(format!(
                        "{file} was changed by another program; that change can be undone."
                    )));
                }
                text
            }
            Standing::Behind(n) => {
                settled.notes.push(note(format!(
                    "{file} was {n} change(s) behind the day book; they were recovered from it."
                )));
                known.to_owned()
            }
            Standing::Missing => {
                settled
                    .notes
                    .push(note(format!("{file} was missing; its text was restored from the day book.")));
                fallback.to_owned()
            }
            Standing::Damaged(reason) => {
                settled.damaged.push((file.clone(), reason));
                fallback.to_owned()
            }
        };
        settled.foreign.extend(Splice::between(file, known, &text));
        settled.texts.insert(file.clone(), text);
    }
    settled
}
