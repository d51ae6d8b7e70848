//! The largest whole rectangle of a lattice, and its crossings in the order of a grid.

use super::lattice::Lattice;
use filmgauge_quantities::PixelPoint;

/// A rectangle of a lattice without a gap.
pub(super) struct Rectangle {
    first: (i32, i32),
    size: (usize, usize),
}

impl Rectangle {
    /// The one with most crossings; of equals the first in the lattice's order. `None` for an empty lattice.
    pub(super) fn largest(lattice: &Lattice) -> Option<Self> {
        // Crossings without a gap from each node on along j; then, for each corner, the widest run along i.
        let mut best: Option<Self> = None;
        for first in lattice.nodes() {
            let mut least_high = usize::MAX;
            for width in 1.. {
                let column = first.0 + i32::try_from(width).unwrap_or(i32::MAX) - 1;
                let high = (0..).take_while(|k| lattice.get((column, first.1 + k)).is_some()).count();
                least_high = least_high.min(high);
                if least_high == 0 {
                    break;
                }
                if best.as_ref().is_none_or(|best| width * least_high > best.n()) {
                    best = Some(Self { first, size: (width, least_high) });
                }
            }
        }
        best
    }

    /// Its crossings.
    pub(super) fn n(&self) -> usize {
        self.size.0 * self.size.1
    }

    /// Longer and shorter side.
    pub(super) fn size(&self) -> (usize, usize) {
        (self.size.0.max(self.size.1), self.size.0.min(self.size.1))
    }

    /// Whether it is so large, either way round.
    pub(super) fn is_of(&self, columns: usize, rows: usize) -> bool {
        self.size() == (columns.max(rows), columns.min(rows))
    }

    /// Its crossings row by row, `columns` to a row: rows run to the right, columns follow them turning from x to y.
    pub(super) fn ordered(&self, lattice: &Lattice, columns: usize, rows: usize) -> Vec<PixelPoint> {
        let at = |i: usize, j: usize| {
            let node = |from: i32, k: usize| from + i32::try_from(k).unwrap_or(0);
            lattice.get((node(self.first.0, i), node(self.first.1, j))).unwrap_or_default()
        };
        let level = |a: PixelPoint, b: PixelPoint| (b.x - a.x).abs() / a.distance(b);
        let (last_i, last_j) = (self.size.0 - 1, self.size.1 - 1);
        let is_along_i = if columns == rows {
            level(at(0, 0), at(last_i, 0)) >= level(at(0, 0), at(0, last_j))
        } else {
            self.size.0 == columns
        };
        let along = |column: usize, row: usize| if is_along_i { at(column, row) } else { at(row, column) };
        let (o, a, b) = (along(0, 0), along(columns - 1, 0), along(0, rows - 1));
        let is_mirrored = (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x) < 0.0;
        let upright =
            |column: usize, row: usize| along(column, if is_mirrored { rows - 1 - row } else { row });
        let row_by_row = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
        let mut ordered: Vec<PixelPoint> = row_by_row.map(|(column, row)| upright(column, row)).collect();
        if upright(columns - 1, 0).x < upright(0, 0).x {
            ordered.reverse();
        }
        ordered
    }
}
