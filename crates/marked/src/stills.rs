//! Marked stills: single frames as PNG files, named by camera and frame.

use crate::prepared::Prepared;
use crate::{MarkedError, MarkedOptions, StillFrames};
use filmgauge_dossier::{Dossier, Progress, Watch};
use filmgauge_footage::{RandomOptions, RandomReader, ReadOptions};
use filmgauge_quantities::FrameNumber;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Writes marked stills into `folder`, which is made if missing, and tells their names in order of frames. Each appears
/// whole or not at all; those of an earlier call are replaced.
///
/// # Errors
/// As [`crate::marked_film`]; stills that are finished stay.
pub fn marked_stills(
    dossier: &Dossier,
    options: &MarkedOptions,
    frames: &StillFrames,
    folder: &Path,
    watch: &dyn Watch,
) -> Result<Vec<PathBuf>, MarkedError> {
    let prepared = Prepared::of(dossier, options)?;
    let wanted = wanted(&prepared, frames)?;
    filmgauge_shelf::make_folder(folder)
        .map_err(|source| MarkedError::Folder { path: folder.to_owned(), source })?;
    let read = ReadOptions { fields: prepared.camera.fields, ..ReadOptions::default() };
    // The content was hashed a moment ago, with the other inputs.
    let random = RandomOptions { read, whole_check: false, ..RandomOptions::default() };
    let index = Arc::clone(&prepared.index);
    let mut reader = RandomReader::open(&dossier.root, &prepared.camera.footage, index, &random)?;
    let camera = prepared.camera.id.as_str();
    let step = format!("camera {camera}: marked stills");
    let mut written = Vec::new();
    for (done, &number) in (0_u64..).zip(&wanted) {
        if watch.stop_asked() {
            return Err(MarkedError::Stopped { kept: None });
        }
        watch.progress(&Progress { step: &step, done, total: Some(wanted.len() as u64) });
        let frame = reader.frame(FrameNumber(number))?;
        let view = frame.picture.view();
        let picture = prepared.drawn.picture(number, &view, prepared.rows(number), frame.damaged)?;
        let path = folder.join(format!("{}-{number:06}.png", filmgauge_shelf::file_name(camera)));
        filmgauge_report::write_file(&path, &picture.png()?)?;
        written.push(path);
    }
    Ok(written)
}

fn wanted(prepared: &Prepared, frames: &StillFrames) -> Result<BTreeSet<u32>, MarkedError> {
    let refuse = |text: String| Err(MarkedError::Option(text));
    let camera = &prepared.camera.id;
    let [first, last] = prepared.frames;
    match frames {
        StillFrames::Named(named) => {
            if let Some(frame) = named.iter().find(|frame| !(first..=last).contains(*frame)) {
                return refuse(format!("camera {camera} has frames {first} to {last} here, not {frame}"));
            }
            if named.is_empty() {
                return refuse("no frame is named; give some, such as 100,210".to_owned());
            }
            Ok(named.iter().copied().collect())
        }
        StillFrames::Instants => {
            let wanted: BTreeSet<u32> = prepared.instants.range(first..=last).copied().collect();
            if wanted.is_empty() {
                return refuse(format!(
                    "no event and no instant of the picture strip lies in the film of camera {camera}; name frames"
                ));
            }
            Ok(wanted)
        }
    }
}
