//! Finds the inner corners of a chessboard in one picture and orders them as a grid: crossings of two edges, joined where an
//! edge runs from one to the next, each then located by its half-turn symmetry. Method and limits: `docs/methods/lens.md`.

mod fine;
mod lattice;
mod link;
mod options;
mod rectangle;
#[cfg(test)]
mod tests;

pub use options::ChessboardOptions;

use crate::error::TargetsError;
use crate::spot::{SpotOptions, spot};
use filmgauge_quantities::{GreyView, PixelCov, PixelPoint};
use lattice::Lattice;
use rectangle::Rectangle;

/// Crossings that a search is started from, best first, before the largest grid so far is taken.
const MOST_STARTS: usize = 40;
/// Shortest side of a cell over its longest below which a board that is not whole is said to be seen edge on.
const EDGE_ON_RATIO: f64 = 0.35;

/// Inner corners of a chessboard.
#[derive(Debug, Clone, PartialEq)]
pub struct Chessboard {
    /// Corners along a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// The corners, row by row; turning from the direction of a row to that of a column goes from x to y, and rows run to the
    /// right. A board that looks the same after half a turn has no first corner of its own.
    pub corners: Vec<ChessCorner>,
}

/// One inner corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChessCorner {
    /// Where it is.
    pub at: PixelPoint,
    /// Its covariance, from the noise of the picture.
    pub cov: PixelCov,
    /// Half-width of the window it was located in, px.
    pub window_px: f64,
}

/// Why no board was found. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ChessboardFailure {
    /// A setting is out of its range.
    #[error(transparent)]
    Setting(#[from] TargetsError),
    /// No chequered pattern is there.
    #[error(
        "no chessboard is seen; check that board and picture belong together, that it is sharp and not overexposed"
    )]
    NoBoard,
    /// A grid of another size is seen.
    #[error(
        "a whole grid of {columns}x{rows} inner corners is seen, not {wanted_columns}x{wanted_rows}; correct the grid's size, or show the whole board with a plain rim"
    )]
    OtherSize {
        /// Corners along the longer side.
        columns: usize,
        /// Corners along the shorter side.
        rows: usize,
        /// As asked for.
        wanted_columns: usize,
        /// As asked for.
        wanted_rows: usize,
    },
    /// Only a part of the board is seen.
    #[error(
        "only {n} of {wanted} inner corners are seen, {columns}x{rows} of them in a whole grid; show the whole board with a plain rim, \
         in focus, or correct the grid's size"
    )]
    Partial {
        /// Corners found.
        n: usize,
        /// Corners of the board.
        wanted: usize,
        /// Of the largest whole grid, corners along the longer side.
        columns: usize,
        /// Along the shorter side.
        rows: usize,
    },
    /// The board is seen at too small an angle.
    #[error(
        "the board is seen edge on: its squares are {ratio:.2} as wide as they are long; turn it more towards the camera"
    )]
    EdgeOn {
        /// Shortest side of a square's picture over its longest.
        ratio: f64,
    },
    /// A corner could not be located.
    #[error(
        "the corner in column {column}, row {row} (from 0) cannot be located: {why}; leave the picture out or take it again"
    )]
    Corner {
        /// Its column.
        column: usize,
        /// Its row.
        row: usize,
        /// Why.
        why: String,
    },
}

/// The inner corners of the chessboard of `options.columns` x `options.rows` inner corners in a picture.
///
/// Squares must be 12 px wide or more in their shorter direction.
///
/// # Errors
/// [`ChessboardFailure`] says why there is no board.
pub fn find_chessboard(
    view: &GreyView,
    options: &ChessboardOptions,
) -> Result<Chessboard, ChessboardFailure> {
    options.check()?;
    let found = largest(view, options)?.ok_or(ChessboardFailure::NoBoard)?;
    let (lattice, rectangle) = (&found.0, &found.1);
    let ratio = lattice.cell_ratio();
    let is_wanted = rectangle.is_of(options.columns, options.rows);
    if ratio < options.least_ratio || !is_wanted && ratio < EDGE_ON_RATIO {
        return Err(ChessboardFailure::EdgeOn { ratio });
    }
    if !is_wanted {
        return Err(other_size(lattice, rectangle, options));
    }
    fine::board(view, &rectangle.ordered(lattice, options.columns, options.rows), options)
}

fn other_size(lattice: &Lattice, rectangle: &Rectangle, options: &ChessboardOptions) -> ChessboardFailure {
    let (columns, rows) = rectangle.size();
    // A corner or two beyond a whole grid belong to what lies behind the board.
    if columns >= 3 && rows >= 3 && lattice.len() <= columns * rows + 2 {
        let (wanted_columns, wanted_rows) = (options.columns, options.rows);
        return ChessboardFailure::OtherSize { columns, rows, wanted_columns, wanted_rows };
    }
    ChessboardFailure::Partial { n: lattice.len(), wanted: options.columns * options.rows, columns, rows }
}

/// The lattice with the largest whole rectangle; the search ends with the first that is of the size asked for.
fn largest(
    view: &GreyView,
    options: &ChessboardOptions,
) -> Result<Option<(Lattice, Rectangle)>, TargetsError> {
    let crossings = SpotOptions {
        pattern_may_continue: true,
        least_score: options.least_score,
        least_contrast_share: options.least_contrast_share,
        greatest_radius_px: options.greatest_radius_px,
        most: 4000,
        ..SpotOptions::default()
    };
    let seeds: Vec<PixelPoint> = spot(view, &crossings)?.iter().map(|spot| spot.centre).collect();
    let mut best: Option<(Lattice, Rectangle)> = None;
    let mut taken = vec![false; seeds.len()];
    let mut n_starts = 0;
    for start in 0..seeds.len() {
        if taken[start] || n_starts == MOST_STARTS {
            continue;
        }
        n_starts += 1;
        let Some(lattice) = Lattice::grown(view, &seeds, start, options) else { continue };
        for seed in lattice.seeds() {
            taken[seed] = true;
        }
        let Some(rectangle) = Rectangle::largest(&lattice) else { continue };
        let is_wanted = rectangle.is_of(options.columns, options.rows);
        if best.as_ref().is_none_or(|(_, other)| rectangle.n() > other.n()) || is_wanted {
            best = Some((lattice, rectangle));
        }
        if is_wanted {
            break;
        }
    }
    Ok(best)
}
