//! A lens from pictures of a chessboard: the board is found in each, then all are fitted at once.

use super::Unused;
use super::words::lens_terms;
use crate::{DossierError, Progress, Watch};
use filmgauge_footage::{Frame, ReadOptions};
use filmgauge_geometry::{FlatGrid, GridView, LensFile, LensFit, LensFitOptions, fit_lens};
use filmgauge_quantities::Length;
use filmgauge_results::{LensPicture, LensPoint, LensResidual};
use filmgauge_targets::{ChessboardOptions, find_chessboard};
use std::path::Path;

/// Most pictures that are taken: more tell nothing new and cost time.
const MOST_PICTURES: usize = 300;

/// A lens from views of a board.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardCalibration {
    /// The fit.
    pub fit: LensFit,
    /// The board's corners as seen.
    pub views: Vec<GridView>,
    /// Pictures that gave no view.
    pub unused: Vec<Unused>,
}

/// A board from what people write: inner corners such as "9x6", and the side of a square with its unit such as "25mm"
/// (mm, cm, m or in).
///
/// # Errors
/// [`DossierError::Lens`] says which of the two is not usable, and how it is written.
pub fn board_of(grid: &str, pitch: &str) -> Result<FlatGrid, DossierError> {
    let no_grid = || DossierError::Lens(format!("{grid} is no grid; write inner corners as 9x6"));
    let (columns, rows) = grid.split_once(['x', 'X', '×']).ok_or_else(no_grid)?;
    let number = |text: &str| text.trim().parse::<usize>().ok().ok_or_else(no_grid);
    let (columns, rows) = (number(columns)?, number(rows)?);
    let failed = |why: &dyn std::fmt::Display| DossierError::Lens(why.to_string());
    ChessboardOptions::of(columns, rows).check().map_err(|why| failed(&why))?;
    let pitch = pitch_of(pitch).ok_or_else(|| {
        DossierError::Lens(format!(
            "{pitch} is no length with a unit; write it as 25mm, 2.5cm, 0.025m or 1in"
        ))
    })?;
    let grid = FlatGrid { columns, rows, pitch };
    grid.check().map_err(|why| failed(&why))?;
    Ok(grid)
}

/// A length with its unit, which must be there: a bare number has been millimetres to one and metres to the next.
fn pitch_of(text: &str) -> Option<Length> {
    let begins = text.find(|letter: char| letter.is_ascii_alphabetic())?;
    let (number, unit) = text.split_at(begins);
    let m_per_unit = match unit.trim() {
        "mm" => 1e-3,
        "cm" => 1e-2,
        "m" => 1.0,
        "in" => 0.0254,
        _ => return None,
    };
    let number: f64 = number.trim().parse().ok()?;
    (number.is_finite() && number > 0.0).then(|| Length::from_m(number * m_per_unit))
}

/// The lens of the camera that took `pictures` of a board: stills, sequences by a pattern with one `*`, or short films,
/// relative to `root`; every frame counts.
///
/// # Errors
/// [`DossierError::Lens`] when a picture cannot be read or the views give no lens, with what became of each;
/// [`DossierError::Stopped`] when the watcher asks for it.
pub fn calibrate_from_board(
    root: &Path,
    pictures: &[String],
    grid: &FlatGrid,
    watch: &dyn Watch,
) -> Result<BoardCalibration, DossierError> {
    let options = ChessboardOptions::of(grid.columns, grid.rows);
    let mut found = Found { views: Vec::new(), unused: Vec::new(), size_px: (0, 0) };
    let failed = |error: filmgauge_footage::FootageError| DossierError::Lens(error.to_string());
    for (n, name) in pictures.iter().enumerate() {
        let mut reader = filmgauge_footage::open(root, name, &ReadOptions::default()).map_err(failed)?;
        while let Some(frame) = reader.next_frame().map_err(failed)? {
            if watch.stop_asked() {
                return Err(DossierError::Stopped);
            }
            if found.views.len() + found.unused.len() >= MOST_PICTURES {
                return Err(DossierError::Lens(format!(
                    "{name}: more than {MOST_PICTURES} pictures; give fewer, each with the board tilted differently"
                )));
            }
            watch.progress(&Progress { step: name, done: n as u64, total: Some(pictures.len() as u64) });
            let name =
                if frame.number.0 == 0 { name.clone() } else { format!("{name} frame {}", frame.number) };
            found.add(name, &frame, &options)?;
        }
    }
    let fit = fit_lens(grid, &found.views, found.size_px, &LensFitOptions::default())
        .map_err(|why| DossierError::Lens(format!("{}: {why}", found.said())))?;
    Ok(BoardCalibration { fit, views: found.views, unused: found.unused })
}

/// What was found in all pictures.
struct Found {
    views: Vec<GridView>,
    unused: Vec<Unused>,
    size_px: (u32, u32),
}

impl Found {
    fn add(&mut self, name: String, frame: &Frame, options: &ChessboardOptions) -> Result<(), DossierError> {
        let view = frame.picture.view();
        let side = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let size_px = (side(view.width()), side(view.height()));
        if self.size_px == (0, 0) {
            self.size_px = size_px;
        }
        if self.size_px != size_px {
            return Err(DossierError::Lens(format!(
                "{name} is {} x {} px, the pictures before it are {} x {} px; give pictures of one camera and one setting",
                size_px.0, size_px.1, self.size_px.0, self.size_px.1
            )));
        }
        match find_chessboard(&view, options) {
            Ok(board) => {
                let corners = board.corners.iter().map(|corner| corner.at).collect();
                self.views.push(GridView { name, corners });
            }
            Err(why) => self.unused.push(Unused { name, reason: why.to_string() }),
        }
        Ok(())
    }

    /// What became of the pictures, for an error that follows from it.
    fn said(&self) -> String {
        let reasons: Vec<String> =
            self.unused.iter().map(|unused| format!("{}: {}", unused.name, unused.reason)).collect();
        let rest =
            if reasons.is_empty() { String::new() } else { format!("; not used: {}", reasons.join("; ")) };
        format!("board found in {} of {} pictures{rest}", self.views.len(), self.views.len() + reasons.len())
    }
}

impl BoardCalibration {
    pub(super) fn file(&self) -> LensFile {
        LensFile::of_fit(&self.fit)
    }

    /// What each corner is off by.
    #[must_use]
    pub fn picture(&self) -> LensPicture {
        let fit = &self.fit;
        let points = fit.views.iter().flat_map(|view| {
            let seen = self.views.iter().find(|seen| seen.name == view.name);
            let places = seen.into_iter().flat_map(|seen| &seen.corners);
            places.zip(&view.residuals_px).map(|(at, residual_px)| LensResidual {
                at_px: [at.x, at.y],
                residual_px: *residual_px,
                is_used: view.is_used,
            })
        });
        LensPicture {
            title: format!("Lens from {} views: RMS {:.3} px", fit.n_used(), fit.rms_px),
            size_px: fit.size_px,
            of: LensPoint::Corner,
            points: points.collect(),
            outline_px: fit.field.outline.iter().map(|at| [at.x, at.y]).collect(),
            centre_px: [fit.lens.cx_px, fit.lens.cy_px],
            field_radius_px: fit.field.radius_px,
        }
    }

    pub(super) fn said(&self) -> Vec<String> {
        let fit = &self.fit;
        let mut lines = vec![format!(
            "RMS {:.4} px over {} views; terms {}; corners cover {:.0} % of the picture",
            fit.rms_px,
            fit.n_used(),
            fit.terms,
            100.0 * fit.field.share
        )];
        lines.extend(lens_terms(&self.file()));
        lines
    }

    pub(super) fn notices(&self) -> Vec<String> {
        let odd =
            self.fit.odd.iter().map(|view| {
                format!("{} does not belong: RMS {:.3} px; {}", view.name, view.rms_px, view.reason)
            });
        let unused = self.unused.iter().map(|unused| format!("{}: {}", unused.name, unused.reason));
        odd.chain(unused).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::pitch_of;

    #[test]
    fn a_pitch_needs_its_unit() {
        for (text, m) in [("25mm", 0.025), ("2.5 cm", 0.025), ("0.025m", 0.025), ("1in", 0.0254)] {
            assert!((pitch_of(text).unwrap().as_m() - m).abs() < 1e-15, "{text}");
        }
        for text in ["25", "mm", "25 furlongs", "-1mm", "nanmm", ""] {
            assert_eq!(pitch_of(text), None, "{text}");
        }
    }
}
