//! Locates each corner of a board in a window that keeps clear of every other edge.

use super::{ChessCorner, Chessboard, ChessboardFailure, ChessboardOptions};
use crate::locate::{LEAST_RADIUS_PX, LocateOptions, locate};
use filmgauge_quantities::{GreyView, PixelPoint};
use rayon::prelude::*;

/// Rounds of locating; the second has its windows from the first one's corners.
const ROUNDS: usize = 2;
/// Windows that are tried one after the other, in shares of the widest.
const WINDOW_SHARES: [f64; 4] = [1.0, 0.8, 0.6, 0.4];

/// The board whose corners lie near `rough`, row by row.
pub(super) fn board(
    view: &GreyView,
    rough: &[PixelPoint],
    options: &ChessboardOptions,
) -> Result<Chessboard, ChessboardFailure> {
    let (columns, rows) = (options.columns, options.rows);
    let mut places = rough.to_vec();
    let mut corners = Vec::new();
    for _ in 0..ROUNDS {
        let located: Vec<_> =
            (0..places.len()).into_par_iter().map(|k| corner(view, &places, k, options)).collect();
        corners = located.into_iter().collect::<Result<Vec<ChessCorner>, _>>()?;
        places = corners.iter().map(|corner| corner.at).collect();
    }
    Ok(Chessboard { columns, rows, corners })
}

fn corner(
    view: &GreyView,
    places: &[PixelPoint],
    k: usize,
    options: &ChessboardOptions,
) -> Result<ChessCorner, ChessboardFailure> {
    let failure = |why: String| ChessboardFailure::Corner {
        column: k % options.columns,
        row: k / options.columns,
        why,
    };
    let clear_px = clear_px(places, k, options.columns);
    let window_px = (options.window_share * clear_px).min(options.greatest_window_px);
    if window_px < LEAST_RADIUS_PX {
        return Err(failure(format!("the next edge is {clear_px:.1} px away, too near")));
    }
    let mut failed = String::new();
    // A window that something else reaches into may hold no symmetry: a smaller one keeps clear of it.
    for share in WINDOW_SHARES {
        let window_px = (share * window_px).max(LEAST_RADIUS_PX);
        let fine = LocateOptions {
            window_share: 1.0,
            rim_px: 0.0,
            search_px: (0.25 * window_px).max(1.0),
            most_iterations: 40,
            greatest_residual_share: 0.2,
            greatest_saturated_share: 0.7,
            ..LocateOptions::default()
        };
        match locate(view, places[k], window_px, &fine) {
            Ok(located) => return Ok(ChessCorner { at: located.centre, cov: located.cov, window_px }),
            Err(why) => failed = why.to_string(),
        }
    }
    Err(failure(failed))
}

/// Distance from a corner to the nearest edge of the board that does not pass through it, px.
fn clear_px(places: &[PixelPoint], k: usize, columns: usize) -> f64 {
    let (column, row) = ((k % columns) as i64, (k / columns) as i64);
    let rows = (places.len() / columns) as i64;
    let at = |column: i64, row: i64| {
        let is_there = (0..columns as i64).contains(&column) && (0..rows).contains(&row);
        is_there.then(|| places[row as usize * columns + column as usize])
    };
    let here = places[k];
    let mut least = f64::INFINITY;
    for (ahead, aside) in [((1, 0), (0, 1)), ((-1, 0), (0, 1)), ((0, 1), (1, 0)), ((0, -1), (1, 0))] {
        let Some(next) = at(column + ahead.0, row + ahead.1) else { continue };
        let beside = [1, -1]
            .into_iter()
            .find_map(|sign| at(column + ahead.0 + sign * aside.0, row + ahead.1 + sign * aside.1));
        let Some(beside) = beside else { continue };
        // Distance to the line through the neighbour along the crossing edge.
        let (dx, dy) = (beside.x - next.x, beside.y - next.y);
        least = least.min(((here.x - next.x) * dy - (here.y - next.y) * dx).abs() / dx.hypot(dy));
    }
    least
}
