//! Markers of named instants: a line each, with labels in as many rows as keep them apart.

use super::svg::Svg;
use super::{RIGHT, WIDTH};
use filmgauge_results::PanelMarker;

const ROW_HEIGHT: f64 = 15.0;
/// Generous width of a letter of a label, so that labels never touch whatever the font.
const LETTER_WIDTH: f64 = 6.4;

/// Labels with their places.
pub(super) struct PlacedMarkers<'a> {
    rows: usize,
    markers: Vec<Placed<'a>>,
}

struct Placed<'a> {
    x: f64,
    row: usize,
    leftwards: bool,
    label: &'a str,
}

/// Gives each marker inside the diagram a row in which its label touches no other.
pub(super) fn placed(markers: &[PanelMarker], place: impl Fn(f64) -> f64) -> PlacedMarkers<'_> {
    let mut taken: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut done = Vec::new();
    for marker in markers {
        let x = place(marker.time_s);
        if !(super::LEFT..=WIDTH - RIGHT).contains(&x) {
            continue;
        }
        let width = LETTER_WIDTH * marker.label.chars().map(|_| 1.0).sum::<f64>() + 8.0;
        let leftwards = x + width > WIDTH;
        let reach = if leftwards { (x - width, x) } else { (x, x + width) };
        let free = |row: &Vec<(f64, f64)>| row.iter().all(|(from, to)| reach.1 <= *from || reach.0 >= *to);
        let row = taken.iter().position(free).unwrap_or(taken.len());
        if row == taken.len() {
            taken.push(Vec::new());
        }
        taken[row].push(reach);
        done.push(Placed { x, row, leftwards, label: &marker.label });
    }
    PlacedMarkers { rows: taken.len(), markers: done }
}

impl PlacedMarkers<'_> {
    /// Room that the labels need above the diagram.
    #[expect(clippy::cast_precision_loss, reason = "a handful of rows")]
    pub(super) fn height(&self) -> f64 {
        self.rows as f64 * ROW_HEIGHT
    }

    /// Draws lines and labels over a diagram whose top is at `top`.
    #[expect(clippy::cast_precision_loss, reason = "a handful of rows")]
    pub(super) fn draw(&self, svg: &mut Svg, top: f64, height: f64) {
        for marker in &self.markers {
            let y = ROW_HEIGHT * (marker.row + 1) as f64;
            svg.line("marker", (marker.x, y - 10.0), (marker.x, top + height));
            let (class, shift) = if marker.leftwards { ("label endmost", -4.0) } else { ("label", 4.0) };
            svg.text(class, (marker.x + shift, y), marker.label);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn close_labels_take_rows_of_their_own() {
        let marker = |time_s: f64, label: &str| PanelMarker { time_s, label: label.to_owned() };
        let markers =
            [marker(100.0, "contact"), marker(110.0, "flash"), marker(400.0, "crush"), marker(9e3, "out")];
        let placed = placed(&markers, |time_s| time_s);
        assert_eq!(placed.rows, 2);
        assert_eq!(placed.markers.iter().map(|marker| marker.row).collect::<Vec<_>>(), [0, 1, 0]);
    }
}
