//! Keeps a dossier that is being worked on: every edit goes into the day book at once and into the files soon after.
//!
//! [`Workbook`] holds the texts of `dossier.toml` and of `picks/<camera>.csv`. An [`Edit`] makes a new text, which is
//! recorded as one line of `daybook.jsonl`; undo and redo are lines too, so they reach back across restarts.
//!
//! # Conventions
//! * The day book is written and synced before the files: a file that lags behind is brought up to date on opening.
//! * A file appears whole or not at all. Comments and layout of the dossier stay as the analyst wrote them.
//! * An empty text stands for a file that does not exist.
//! * It knows no windows and measures nothing.

mod acts;
mod aside;
mod disk;
mod edit;
mod entry;
mod error;
mod found;
mod journal;
mod lock;
mod open;
mod picks;
mod place;
mod saving;
mod settle;
mod splice;
mod toml_path;
mod when;
mod workbook;

#[cfg(test)]
mod tests;

pub use edit::{Edit, PathStep};
pub use entry::{Change, Entry};
pub use error::DaybookError;
pub use picks::Pick;
pub use toml_edit::Value;
pub use workbook::{OpeningNote, Workbook, WorkbookOptions};
