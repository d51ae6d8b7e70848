//! Edits as a form or a hand makes them, and the texts that follow from them.

use crate::entry::Change;
use crate::error::DaybookError;
use crate::picks::{self, Pick};
use crate::splice::Texts;
use crate::{place, toml_path};
use toml_edit::{DocumentMut, Value};

/// One step to a place in `dossier.toml`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PathStep {
    /// A key.
    Key(String),
    /// The n-th `[[table]]` or item of an array, from 0.
    Item(usize),
}

/// One edit.
#[derive(Debug, Clone)]
pub enum Edit {
    /// Gives a key or an item a value; missing tables are made, inner ones as inline tables.
    Set {
        /// Place.
        path: Vec<PathStep>,
        /// Value.
        value: Value,
    },
    /// Takes away a key, an item, or a whole `[[table]]`.
    Remove {
        /// Place.
        path: Vec<PathStep>,
    },
    /// Adds a `[[table]]` at the end of its kind.
    Append {
        /// Name of the table.
        table: String,
        /// Its lines.
        values: Vec<(String, Value)>,
    },
    /// Places a mark by hand; one of the same frame and target is replaced.
    PutPick {
        /// Camera id.
        camera: String,
        /// The mark.
        pick: Pick,
    },
    /// Takes a mark by hand away.
    RemovePick {
        /// Camera id.
        camera: String,
        /// Frame.
        frame: u32,
        /// Target id.
        target: String,
    },
}

/// The file of a camera's marks by hand, from the dossier's folder.
///
/// # Errors
/// [`DaybookError::Refused`] for a camera whose name is no file name.
pub(crate) fn picks_file(camera: &str) -> Result<String, DaybookError> {
    let is_name = !camera.is_empty() && !camera.starts_with('.') && !camera.contains(['/', '\\', ':', '\0']);
    if !is_name {
        return Err(DaybookError::refused(format!("\"{camera}\" cannot name a file of marks")));
    }
    Ok(format!("picks/{camera}.csv"))
}

/// Makes one edit in `texts` and says what changed.
pub(crate) fn make(texts: &mut Texts, dossier_file: &str, edit: &Edit) -> Result<Change, DaybookError> {
    match edit {
        Edit::PutPick { camera, pick } => {
            let file = picks_file(camera)?;
            let text = texts.get(&file).map_or("", String::as_str);
            let (made, old) = picks::put(text, pick)?;
            texts.insert(file, made);
            let place = place::of_pick(camera, pick.frame, &pick.target);
            Ok(Change { place, old: old.as_ref().map(picks::told), new: Some(picks::told(pick)) })
        }
        Edit::RemovePick { camera, frame, target } => {
            let file = picks_file(camera)?;
            let text = texts.get(&file).map_or("", String::as_str);
            let place = place::of_pick(camera, *frame, target);
            let Some((made, old)) = picks::remove(text, *frame, target) else {
                return Err(DaybookError::refused(format!("{place}: there is no such mark")));
            };
            texts.insert(file, made);
            Ok(Change { place, old: Some(picks::told(&old)), new: None })
        }
        Edit::Set { .. } | Edit::Remove { .. } | Edit::Append { .. } => {
            let text = texts.get(dossier_file).map_or("", String::as_str);
            let (made, change) = in_dossier(text, edit)?;
            texts.insert(dossier_file.to_owned(), made);
            Ok(change)
        }
    }
}

fn in_dossier(text: &str, edit: &Edit) -> Result<(String, Change), DaybookError> {
    let mut document: DocumentMut =
        text.parse().map_err(|error| DaybookError::refused(format!("the dossier is not TOML: {error}")))?;
    let change = match edit {
        Edit::Set { path, value } => {
            let place = place::of_path(&document, path);
            let old = toml_path::set(&mut document, path, value.clone())
                .ok_or_else(|| DaybookError::refused(format!("{place} cannot be set")))?;
            Change { place, old, new: Some(value.to_string().trim().to_owned()) }
        }
        Edit::Remove { path } => {
            let place = place::of_path(&document, path);
            let old = toml_path::remove(&mut document, path)
                .ok_or_else(|| DaybookError::refused(format!("{place}: there is nothing to take away")))?;
            Change { place, old: Some(old), new: None }
        }
        Edit::Append { table, values } => {
            let place = place::of_new(table, values);
            let new = toml_path::append(&mut document, table, values)
                .ok_or_else(|| DaybookError::refused(format!("{table} is no list of tables")))?;
            Change { place, old: None, new: Some(new) }
        }
        Edit::PutPick { .. } | Edit::RemovePick { .. } => {
            return Err(DaybookError::refused("a mark by hand has its own file"));
        }
    };
    let made = document.to_string();
    let made = if text.contains("\r\n") { made.replace("\r\n", "\n").replace('\n', "\r\n") } else { made };
    Ok((made, change))
}
