//! Reading by kind of file: a test header means an exchange folder, a table means columns.

use crate::csv_read::{BLANK_KINDS, list_csv, read_csv};
use crate::exchange_read::{list_exchange, read_exchange};
use crate::text::file_error;
use crate::{Channel, SensorsError};
use std::path::Path;

/// Reads one channel of an exchange folder (`.mme`) or of a table (`.csv`; `.txt`, `.asc`, `.dat`, `.xy` with blanks or tabs), in the file's unit.
///
/// `code` is the channel code, or the column's header. A `unit` given goes before the file's own; where the
/// two differ, the channel's steps say so. Convert with [`crate::to_si`].
///
/// # Errors
/// [`SensorsError::Disk`], [`SensorsError::Kind`], [`SensorsError::File`] with the line, and
/// [`SensorsError::NoChannel`] with the codes there are.
pub fn read(path: &Path, code: &str, unit: Option<&str>) -> Result<Channel, SensorsError> {
    let mut channel = match kind(path)? {
        Kind::Exchange => read_exchange(path, code)?,
        Kind::Table => read_csv(path, code)?,
    };
    // Numbers may be finite and still make no time base: times of 1e308 s overflow, steps of 1e-320 ms vanish.
    channel.check().map_err(|error| file_error(&channel.file, None, error.to_string()))?;
    if let Some(unit) = unit.map(str::trim).filter(|unit| !unit.is_empty()) {
        if !channel.unit.is_empty() && channel.unit != unit {
            channel.steps.push(format!("unit taken as {unit}, though the file says {}", channel.unit));
        }
        unit.clone_into(&mut channel.unit);
    }
    Ok(channel)
}

/// Codes, or column headers, of all channels in a file, in its order.
///
/// # Errors
/// As [`read`], without `NoChannel`.
pub fn list(path: &Path) -> Result<Vec<String>, SensorsError> {
    match kind(path)? {
        Kind::Exchange => list_exchange(path),
        Kind::Table => list_csv(path),
    }
}

enum Kind {
    Exchange,
    Table,
}

fn kind(path: &Path) -> Result<Kind, SensorsError> {
    let extension = path.extension().map(|extension| extension.to_string_lossy().to_lowercase());
    match extension.as_deref() {
        Some("mme") => Ok(Kind::Exchange),
        Some("csv") => Ok(Kind::Table),
        Some(kind) if BLANK_KINDS.contains(&kind) => Ok(Kind::Table),
        _ => Err(SensorsError::Kind { path: path.to_owned() }),
    }
}
