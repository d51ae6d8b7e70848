//! Making a working copy: one pass over the original, every frame proved on the way.

use super::layout::{Head, Region, TITLE};
use crate::random::film_access::is_as_indexed;
use crate::{FootageError, FrameIndex, ReadOptions, Reader, frames};
use filmgauge_quantities::FrameNumber;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::sync::Arc;

/// Writes the `regions` of every frame to `out`, under a temporary name first; no regions mean whole pictures.
/// `on_frame` is called before each frame; it returns false to stop.
///
/// # Errors
/// [`FootageError::Settings`] when a region leaves the picture; [`FootageError::OtherFootage`] and
/// [`FootageError::NotExact`] when the footage is not as indexed; [`FootageError::Write`] when the file cannot be
/// written; [`FootageError`] as [`crate::open`].
pub fn working_copy(
    base: &Path,
    footage: &str,
    index: &Arc<FrameIndex>,
    regions: &[Region],
    out: &Path,
    options: &ReadOptions,
    on_frame: &mut dyn FnMut(FrameNumber) -> bool,
) -> Result<(), FootageError> {
    let head = head(index, regions)?;
    let reader = frames(base, footage, Some(index), options)?;
    index.check(reader.files(), true)?;
    let mut why = None;
    let written = filmgauge_shelf::put_with(out, |file| {
        write(reader, index, &head, (out, file), on_frame).map_err(|fault| {
            let said = std::io::Error::other(fault.to_string());
            why = Some(fault);
            said
        })
    });
    written.map_err(|error| why.unwrap_or_else(|| FootageError::write(out, &error)))
}

fn head(index: &FrameIndex, regions: &[Region]) -> Result<Head, FootageError> {
    let whole = Region { x: 0, y: 0, width: index.head.width_px, height: index.head.height_px };
    let head = Head {
        original: index.head.identity.clone(),
        index_blake3: blake3::hash(index.to_text()?.as_bytes()).to_hex().to_string(),
        frames: u32::try_from(index.len()).unwrap_or(u32::MAX),
        width_px: index.head.width_px,
        height_px: index.head.height_px,
        bits: index.head.bits,
        regions: if regions.is_empty() { vec![whole] } else { regions.to_vec() },
    };
    head.check().map(|()| head)
}

fn write(
    mut reader: Reader,
    index: &FrameIndex,
    head: &Head,
    (path, file): (&Path, &mut File),
    on_frame: &mut dyn FnMut(FrameNumber) -> bool,
) -> Result<(), FootageError> {
    let failed = |error: std::io::Error| FootageError::write(path, &error);
    let mut out = BufWriter::new(file);
    let json = serde_json::to_vec(head).map_err(|error| FootageError::write(path, &error))?;
    let start = [TITLE.as_slice(), &(json.len() as u64).to_le_bytes(), &json].concat();
    out.write_all(&start).map_err(failed)?;
    let mut packed = Vec::new();
    let mut n_frames = 0_u32;
    while let Some(frame) = reader.next_frame()? {
        if !on_frame(frame.number) {
            return Err(FootageError::Stopped { frame: frame.number });
        }
        if !is_as_indexed(&frame, index) {
            return Err(not_exact(&reader, frame.number, "its picture has another hash"));
        }
        head.pack(&frame.picture.view(), &mut packed);
        out.write_all(blake3::hash(&packed).as_bytes()).map_err(failed)?;
        out.write_all(&packed).map_err(failed)?;
        n_frames += 1;
    }
    if n_frames != head.frames {
        return Err(not_exact(&reader, FrameNumber(n_frames), "the footage ends there"));
    }
    out.write_all(index.to_text()?.as_bytes()).map_err(failed)?;
    out.flush().map_err(failed)
}

fn not_exact(reader: &Reader, frame: FrameNumber, text: &str) -> FootageError {
    let path = reader.files().first().cloned().unwrap_or_default();
    FootageError::NotExact { path, frame, text: text.to_owned() }
}
