//! Calibrating a lens, the one act that every skin calls: from pictures of a board, or from straight edges in one picture.
//! Method: `docs/methods/lens.md`.

mod board;
mod edges;
mod edges_file;
mod words;

pub use board::{BoardCalibration, board_of, calibrate_from_board};
pub use edges::{EdgeCalibration, LocatedEdge, calibrate_from_edges};
pub use edges_file::{EdgeEntry, EdgesFile};
pub use words::lens_terms;

use crate::DossierError;
use filmgauge_footage::{Frame, ReadOptions};
use filmgauge_geometry::LensFile;
use filmgauge_results::LensPicture;
use std::path::Path;

/// A picture or an edge that could not be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unused {
    /// The picture, by its file and frame, or the edge's name.
    pub name: String,
    /// Why.
    pub reason: String,
}

/// A calibrated lens with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub enum LensCalibration {
    /// From pictures of a board.
    Board(Box<BoardCalibration>),
    /// From straight edges in one picture.
    Edges(Box<EdgeCalibration>),
}

impl LensCalibration {
    /// What a lens file holds of it.
    #[must_use]
    pub fn file(&self) -> LensFile {
        match self {
            Self::Board(board) => board.file(),
            Self::Edges(edges) => edges.file(),
        }
    }

    /// What each point is off by, and the field in which the lens was calibrated.
    #[must_use]
    pub fn picture(&self) -> LensPicture {
        match self {
            Self::Board(board) => board.picture(),
            Self::Edges(edges) => edges.picture(),
        }
    }

    /// What it came to in sentences: how well it fits, its terms with ±, and where it holds.
    #[must_use]
    pub fn said(&self) -> Vec<String> {
        match self {
            Self::Board(board) => board.said(),
            Self::Edges(edges) => edges.said(),
        }
    }

    /// What a person must look at; nothing where all is well.
    #[must_use]
    pub fn notices(&self) -> Vec<String> {
        match self {
            Self::Board(board) => board.notices(),
            Self::Edges(edges) => edges.notices.clone(),
        }
    }
}

/// One frame of footage, counted from 0, read from the beginning; `footage` is relative to `root`.
///
/// # Errors
/// [`DossierError::Lens`] when the footage cannot be read or ends before.
pub fn frame_of_footage(root: &Path, footage: &str, frame: u32) -> Result<Frame, DossierError> {
    let failed = |error: filmgauge_footage::FootageError| DossierError::Lens(error.to_string());
    let mut reader = filmgauge_footage::open(root, footage, &ReadOptions::default()).map_err(failed)?;
    let mut n_frames = 0;
    while let Some(read) = reader.next_frame().map_err(failed)? {
        if read.number.0 == frame {
            return Ok(read);
        }
        n_frames = read.number.0 + 1;
    }
    Err(DossierError::Lens(format!(
        "{footage} has no frame {frame}: it has {n_frames}, counted from 0; give one of them"
    )))
}
