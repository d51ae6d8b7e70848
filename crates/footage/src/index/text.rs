//! The index as a file: a title, one line of JSON, then a table with commas; written under a temporary name first.

use super::{FrameIndex, INDEX_VERSION, IndexHead};
use crate::{FootageError, FramePlace, FrameRecord, KeyPlace};
use filmgauge_quantities::{FrameNumber, TickTime, TimeScale};
use std::fmt::Write;
use std::path::Path;
use std::str::FromStr;

/// Begins the first line; the version follows.
const TITLE: &str = "filmgauge frame index";

const COLUMNS: &str =
    "frame,ticks,key,damaged,mean_level,change,byte,start_ticks,start_decode_ticks,start_byte,blake3";

impl FrameIndex {
    /// Writes the index to `path`, under a temporary name first.
    ///
    /// # Errors
    /// [`FootageError::Write`] when the file cannot be written.
    pub fn write(&self, path: &Path) -> Result<(), FootageError> {
        let text = self.to_text()?;
        filmgauge_shelf::put(path, text.as_bytes()).map_err(|error| FootageError::write(path, &error))
    }

    /// Reads an index.
    ///
    /// # Errors
    /// [`FootageError::BadIndex`] naming the line that is wrong; [`FootageError`] when the file cannot be read.
    pub fn read(path: &Path) -> Result<Self, FootageError> {
        let bytes = std::fs::read(path).map_err(|error| FootageError::from_io(path, error))?;
        let bad = |(line, text)| FootageError::BadIndex { path: path.to_path_buf(), line, text };
        let text = std::str::from_utf8(&bytes).map_err(|error| bad((1, error.to_string())))?;
        Self::from_text(text).map_err(bad)
    }

    /// The index as the text of its file.
    ///
    /// # Errors
    /// [`FootageError::Write`] when it cannot be put into text.
    pub fn to_text(&self) -> Result<String, FootageError> {
        let head = serde_json::to_string(&self.head)
            .map_err(|error| FootageError::Settings { text: error.to_string() })?;
        let mut text = format!("{TITLE} {INDEX_VERSION}\n{head}\n{COLUMNS}\n");
        for frame in &self.frames {
            let place = frame.place;
            let start = place.and_then(|place| place.start);
            let hash = blake3::Hash::from_bytes(frame.hash).to_hex();
            // Writing into a String cannot fail.
            let _ = writeln!(
                text,
                "{},{},{},{},{},{},{},{},{},{},{hash}",
                frame.number.0,
                cell(frame.stamp.map(|stamp| stamp.ticks)),
                u8::from(frame.key),
                u8::from(frame.damaged),
                frame.mean_level,
                cell(frame.change),
                cell(place.and_then(|place| place.byte)),
                cell(start.and_then(|start| start.ticks)),
                cell(start.and_then(|start| start.decode_ticks)),
                cell(start.and_then(|start| start.byte)),
            );
        }
        Ok(text)
    }

    /// The index that `text` holds, as [`FrameIndex::to_text`] gives it.
    ///
    /// # Errors
    /// The number of the first wrong line, from 1, and what is wrong with it.
    pub fn from_text(text: &str) -> Result<Self, (usize, String)> {
        let mut lines = text.lines();
        let title = lines.next().unwrap_or_default();
        match title.strip_prefix(TITLE).map(|version| version.trim().parse::<u32>()) {
            Some(Ok(INDEX_VERSION)) => {}
            Some(_) => return Err((1, format!("version {INDEX_VERSION} is read, not \"{title}\""))),
            None => return Err((1, "it is no frame index".to_owned())),
        }
        let head: IndexHead =
            serde_json::from_str(lines.next().unwrap_or_default()).map_err(|error| (2, error.to_string()))?;
        if lines.next() != Some(COLUMNS) {
            return Err((3, format!("the columns must be {COLUMNS}")));
        }
        let mut frames = Vec::new();
        for (at, line) in lines.enumerate() {
            let record =
                record(line, head.tick).ok_or((at + 4, "a value is missing or malformed".to_owned()))?;
            if record.number.0 as usize != at {
                return Err((at + 4, format!("frame {at} is expected here")));
            }
            frames.push(record);
        }
        if frames.len() as u64 != head.frames {
            return Err((
                frames.len() + 4,
                format!("{} frames are announced, not {}", head.frames, frames.len()),
            ));
        }
        Ok(Self { head, frames })
    }
}

fn cell<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn record(line: &str, tick: Option<TimeScale>) -> Option<FrameRecord> {
    let mut cells = line.split(',');
    let number = FrameNumber(parsed(cells.next()?)?);
    let ticks: Option<i64> = optional(cells.next()?)?;
    let (key, damaged) = (flag(cells.next()?)?, flag(cells.next()?)?);
    let mean_level = parsed::<f64>(cells.next()?).filter(|level| level.is_finite())?;
    let change = optional::<f64>(cells.next()?)?;
    let byte = optional(cells.next()?)?;
    let start = KeyPlace {
        ticks: optional(cells.next()?)?,
        decode_ticks: optional(cells.next()?)?,
        byte: optional(cells.next()?)?,
    };
    let hash = *blake3::Hash::from_hex(cells.next()?).ok()?.as_bytes();
    let stamp = match ticks {
        Some(ticks) => Some(TickTime { ticks, scale: tick? }),
        None => None,
    };
    let start =
        Some(start).filter(|start| *start != KeyPlace { ticks: None, decode_ticks: None, byte: None });
    let place = (byte.is_some() || start.is_some()).then_some(FramePlace { byte, start });
    let is_sound = cells.next().is_none() && change.is_none_or(f64::is_finite);
    is_sound.then_some(FrameRecord { number, stamp, key, damaged, mean_level, change, place, hash })
}

fn parsed<T: FromStr>(cell: &str) -> Option<T> {
    cell.parse().ok()
}

/// Empty is nothing; `None` when the cell is malformed.
fn optional<T: FromStr>(cell: &str) -> Option<Option<T>> {
    if cell.is_empty() { Some(None) } else { parsed(cell).map(Some) }
}

fn flag(cell: &str) -> Option<bool> {
    match cell {
        "0" => Some(false),
        "1" => Some(true),
        _ => None,
    }
}
