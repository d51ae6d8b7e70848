//! Sets aside what is damaged, under a name of its own, and puts sound text in its place.

use crate::disk::Disk;
use crate::error::DaybookError;
use crate::found::Files;
use crate::journal::Kept;
use crate::open::note;
use crate::settle::Settled;
use crate::workbook::OpeningNote;
use std::path::Path;

/// Gives a day book with a damaged line another name, so that a new one can begin.
pub(crate) fn set_book_aside(
    book: &Path,
    line: usize,
    disk: Option<&dyn Disk>,
) -> Result<OpeningNote, DaybookError> {
    let damaged = format!("Line {line} of the day book is damaged.");
    let Some(disk) = disk else {
        return Ok(note(format!("{damaged} Earlier changes cannot be shown.")));
    };
    let named = |n: u32| book.with_extension(format!("damaged-{n}.jsonl"));
    let to = (1..).map(named).find(|to| !to.exists()).unwrap_or_else(|| named(0));
    let name = to.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    disk.rename(book, &to).map_err(|source| DaybookError::Write {
        path: book.to_owned(),
        source,
        safe: "Nothing was changed".into(),
    })?;
    Ok(note(format!(
        "{damaged} It is kept as {name} and a new one begins; earlier changes cannot be undone."
    )))
}

/// Puts a last line that was cut short into a file of its own and cuts the day book behind its last whole line.
pub(crate) fn set_tail_aside(book: &Path, kept: &Kept, disk: Option<&dyn Disk>) -> Option<OpeningNote> {
    if kept.torn.is_empty() {
        return None;
    }
    let torn =
        "The last line of the day book was cut short and is left out; that change was never confirmed.";
    let Some(disk) = disk else { return Some(note(torn)) };
    let root = book.parent().unwrap_or(Path::new(""));
    let file = book.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let name = free_name(root, &file, "torn");
    let aside = disk.replace(&root.join(&name), &kept.torn);
    let done = aside.and_then(|()| disk.append(book, kept.bytes, &[]));
    Some(match done {
        Ok(()) => note(format!("{torn} It is kept as {name}.")),
        Err(error) => note(format!("{torn} It could not be kept under another name ({error}).")),
    })
}

/// Keeps each damaged file under another name and puts the restored text in its place. What cannot be written now is
/// told; `found` then says what is there, so that saving tries again.
pub(crate) fn restore(
    settled: &mut Settled,
    found: &mut Files,
    (root, last): (&Path, Option<&str>),
    disk: Option<&dyn Disk>,
) {
    let as_of = last.map_or_else(String::new, |when| format!(" as it stood at {when}"));
    for (file, reason) in &settled.damaged {
        let damaged = format!("{file} is damaged ({reason}).");
        let Some(disk) = disk else {
            settled.notes.push(note(format!(
                "{damaged} Its text is shown from the day book{as_of}; nothing is written while reading only."
            )));
            continue;
        };
        let bytes = found.get(file).cloned().unwrap_or_default();
        let kept = free_name(root, file, "damaged");
        let restored = format!("its text was restored from the day book{as_of}.");
        if let Err(error) = disk.replace(&root.join(&kept), &bytes) {
            // Unlike anything on disk: saving sees a foreign file and keeps it before it is replaced.
            found.remove(file);
            settled.notes.push(note(format!(
                "{damaged} It could not be kept under another name yet ({error}); {restored}"
            )));
            continue;
        }
        let text = settled.texts.get(file).map_or("", String::as_str);
        if disk.replace(&root.join(file), text.as_bytes()).is_ok() {
            found.insert(file.clone(), text.as_bytes().to_vec());
        }
        settled.notes.push(note(format!("{damaged} It is kept as {kept}; {restored}")));
    }
}

/// A name beside `file` that is not taken: "dossier.toml.damaged-1".
pub(crate) fn free_name(root: &Path, file: &str, why: &str) -> String {
    let named = |n: u32| format!("{file}.{why}-{n}");
    (1..).map(named).find(|name| !root.join(name).exists()).unwrap_or_else(|| format!("{file}.{why}"))
}
