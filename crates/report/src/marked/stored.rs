//! What a marked film is drawn from, read back from a results folder: one camera's marks, gaps, times, drawings; curves.

use super::ink::MarkLook;
use crate::ReportError;
use crate::files::{PANELS_FILE, drawing_file};
use filmgauge_results::{FilmDrawing, Panel};
use std::path::{Path, PathBuf};

/// One target's mark in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mark {
    pub(super) frame: u32,
    /// Centre in the stored picture, px.
    pub(super) at: [f64; 2],
    pub(super) look: MarkLook,
}

/// A stretch without marks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Gap {
    pub(super) target: String,
    pub(super) frames: [u32; 2],
    pub(super) cause: String,
}

/// What a marked film of one camera is drawn from.
#[derive(Debug, Clone)]
pub struct FilmResults {
    /// Times, scale, paths and axes.
    pub drawing: FilmDrawing,
    /// Frames of the events that this camera saw.
    pub event_frames: Vec<u32>,
    /// Target by target, in order of frames.
    pub(super) marks: Vec<(String, Vec<Mark>)>,
    pub(super) gaps: Vec<Gap>,
    pub(super) panels: Vec<Panel>,
}

impl FilmResults {
    /// Reads what the results in `folder` hold of `camera`.
    ///
    /// # Errors
    /// [`ReportError::Read`] for a file that is missing or was not written by this version.
    pub fn read(folder: &Path, camera: &str) -> Result<Self, ReportError> {
        let drawing: FilmDrawing = json(&folder.join(drawing_file(camera)))?;
        let panels = json(&folder.join(PANELS_FILE))?;
        let mut marks: Vec<(String, Vec<Mark>)> = Vec::new();
        let names = ["camera", "target", "frame", "x_px", "y_px", "state"];
        rows(&folder.join("marks.csv"), names, |[of, target, frame, x, y, state]| {
            if of == camera {
                let look = MarkLook::of_word(state).ok_or_else(|| format!("state \"{state}\" is unknown"))?;
                let mark = Mark { frame: number(frame)?, at: [number(x)?, number(y)?], look };
                match marks.last_mut() {
                    Some((last, own)) if last == target => own.push(mark),
                    _ => marks.push((target.to_owned(), vec![mark])),
                }
            }
            Ok(())
        })?;
        let mut gaps = Vec::new();
        let names = ["camera", "target", "first_frame", "last_frame", "cause"];
        rows(&folder.join("gaps.csv"), names, |[of, target, first, last, cause]| {
            if of == camera {
                let frames = [number(first)?, number(last)?];
                gaps.push(Gap { target: target.to_owned(), frames, cause: cause.to_owned() });
            }
            Ok(())
        })?;
        let mut event_frames = Vec::new();
        rows(&folder.join("events.csv"), ["camera", "frame"], |[of, frame]| {
            if of == camera {
                event_frames.push(number(frame)?);
            }
            Ok(())
        })?;
        Ok(Self { drawing, event_frames, marks, gaps, panels })
    }

    /// Words by which curves are chosen: the first word of each diagram's title.
    #[must_use]
    pub fn curve_names(&self) -> Vec<String> {
        self.panels.iter().map(|panel| curve_name(&panel.title)).collect()
    }

    /// The diagram of a name.
    pub(super) fn panel(&self, name: &str) -> Result<&Panel, ReportError> {
        let panel = self.panels.iter().find(|panel| curve_name(&panel.title) == name.to_lowercase());
        panel.ok_or_else(|| ReportError::NoSuchCurve { name: name.to_owned(), names: self.curve_names() })
    }
}

fn curve_name(title: &str) -> String {
    let first = title.split(|letter: char| !letter.is_alphanumeric()).find(|word| !word.is_empty());
    first.unwrap_or_default().to_lowercase()
}

fn number<T: std::str::FromStr>(text: &str) -> Result<T, String> {
    text.parse().map_err(|_fault| format!("\"{text}\" is no number"))
}

fn read_error(path: &Path, why: impl std::fmt::Display) -> ReportError {
    ReportError::Read { path: PathBuf::from(path), why: why.to_string() }
}

fn json<T: serde::de::DeserializeOwned>(path: &Path) -> Result<T, ReportError> {
    let file = std::fs::File::open(path).map_err(|why| read_error(path, why))?;
    serde_json::from_reader(std::io::BufReader::new(file)).map_err(|why| read_error(path, why))
}

/// Hands over the columns of these names, row by row; the row of units is left out.
fn rows<const N: usize>(
    path: &Path,
    names: [&str; N],
    mut take: impl FnMut([&str; N]) -> Result<(), String>,
) -> Result<(), ReportError> {
    let fault = |why: String| read_error(path, why);
    let mut reader = csv::Reader::from_path(path).map_err(|why| fault(why.to_string()))?;
    let heads = reader.headers().map_err(|why| fault(why.to_string()))?.clone();
    let mut places = [0; N];
    for (place, name) in places.iter_mut().zip(names) {
        *place = heads
            .iter()
            .position(|head| head == name)
            .ok_or_else(|| fault(format!("it has no column {name}")))?;
    }
    let mut record = csv::StringRecord::new();
    let mut line = 1;
    while reader.read_record(&mut record).map_err(|why| fault(why.to_string()))? {
        line += 1;
        if line > 2 {
            take(places.map(|place| record.get(place).unwrap_or_default()))
                .map_err(|why| fault(format!("line {line}: {why}")))?;
        }
    }
    Ok(())
}
