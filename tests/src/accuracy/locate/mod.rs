//! Centres of painted targets against exact truth and the Cramér–Rao bound, beside OpenCV on the same pictures.

mod bound;
mod circles;
mod paint;
mod peers;
mod trials;

pub use circles::{CircleCase, CircleError};
pub use trials::{Bias, Cell, Outcome};

use anyhow::Result;
use filmgauge_quantities::TargetKind;
use std::fmt::Write;

/// Targets of the tables, with the radius of their outermost edge, px.
const TARGETS: [(TargetKind, f64); 5] = [
    (TargetKind::Quadrant, 18.0),
    (TargetKind::Quadrant, 9.0),
    (TargetKind::Disc, 8.0),
    (TargetKind::Ring, 12.0),
    (TargetKind::Cross, 18.0),
];

/// How many pictures one cell takes.
#[derive(Debug, Clone, Copy)]
pub struct Effort {
    /// Places, turns and directions.
    pub places: usize,
    /// Noisy copies of each.
    pub draws: usize,
    /// Pictures that the peers get too.
    pub for_peers: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self { places: 12, draws: 168, for_peers: 96 }
    }
}

/// The section of targets of `docs/accuracy.md`.
///
/// # Errors
/// When the peers cannot be asked: the reference venv is missing or a script fails.
pub fn page(effort: Effort) -> Result<String> {
    let mut page = String::new();
    centres(&mut page, effort)?;
    biases(&mut page)?;
    eccentricity(&mut page)?;
    Ok(page)
}

/// Noise at full size, then one change at a time at noise 2.
fn cells() -> Vec<Cell> {
    let mut cells = Vec::new();
    for (kind, radius_px) in TARGETS {
        let sides = if Cell::new(kind, radius_px).has_rim() { vec![false, true] } else { vec![false] };
        for is_on_plain_ground in sides {
            let base = Cell { is_on_plain_ground, ..Cell::new(kind, radius_px) };
            cells.push(base);
            cells.push(Cell { noise_grey: 5.0, ..base });
            cells.extend([0.5, 2.0].map(|scale| Cell { radius_px: scale * radius_px, ..base }));
            cells.extend([20.0, 45.0].map(|slant_deg| Cell { slant_deg, ..base }));
            cells.extend([4.0, 8.0, 12.0].map(|smear_px| Cell { smear_px, ..base }));
            cells.push(Cell { smear_px: 12.0, noise_grey: 5.0, ..base });
        }
    }
    let mut once: Vec<Cell> = Vec::new();
    for cell in cells {
        if !once.contains(&cell) {
            once.push(cell);
        }
    }
    once
}

fn centres(page: &mut String, effort: Effort) -> Result<()> {
    let n = effort.places * effort.draws;
    let _ = writeln!(
        page,
        "## Centres of painted targets\n\n\
         Contrast 150 grey, point spread 0.7 px, 8 bits, any turn, any place in the pixel, any direction of slant and smear; \
         {n} pictures a line (a figure is good to ± 1 to 2 %), of which the peers had the first {}.\n\
         `error` is the root mean square along one axis. The bounds (Cramér–Rao, from the painted pictures' own slopes, with \
         level, gain and a linear shading unknown) are those of the pixels used and of the whole picture.\n\
         `rim` says that the method knew the ground around the target to be plain, and used the rim. \
         Peers with a template have another noisy picture of the same target, equally turned, slanted and smeared, and are \
         told its centre exactly; they use all pixels they are given, the rim and the ground among them.\n\n\
         | target | radius, px | noise | slant | smear, px | error, px | ÷ bound of its pixels | ÷ bound of the picture | 95 % ellipse holds | refused \
         | cornerSubPix, px | PyrLK, px | ECC, px | matchTemplate + parabola, px |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
        effort.for_peers
    );
    let cells = cells();
    let outcomes = trials::run_all(&cells, effort)?;
    let asked: Vec<_> = outcomes.iter().map(|(_, pictures)| pictures).collect();
    for ((cell, (outcome, _)), peers) in cells.iter().zip(&outcomes).zip(peers::ask_all(&cells, &asked)?) {
        let px = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |value| format!("{value:.4}"));
        let _ = writeln!(
            page,
            "| {}{} | {} | {} | {}° | {} | {:.4} | {:.3} | {:.3} | {:.1} % | {} | {} | {} | {} | {} |",
            cell.kind.word(),
            if cell.is_on_plain_ground { ", rim" } else { "" },
            cell.radius_px,
            cell.noise_grey,
            cell.slant_deg,
            cell.smear_px,
            outcome.rms_px,
            outcome.over_window,
            outcome.over_whole,
            100.0 * outcome.inside,
            outcome.failures,
            px(peers.corner),
            px(peers.flow),
            px(peers.ecc),
            px(peers.matched)
        );
    }
    page.push('\n');
    Ok(())
}

fn biases(page: &mut String) -> Result<()> {
    let _ = writeln!(
        page,
        "### Bias over the pixel, without noise\n\n\
         Greatest less least error along an axis over 64 places in the pixel, turn 17°. Rounding to 8 bits is itself a noise of \
         0.29 grey.\n\n\
         | target | radius, px | smear, px | unrounded, px | 8 bits, px |\n| --- | --- | --- | --- | --- |"
    );
    for (kind, radius_px) in TARGETS {
        for smear_px in [0.0, 8.0] {
            let cell = Cell { smear_px, ..Cell::new(kind, radius_px) };
            let Bias { unrounded_px, rounded_px } = cell.bias(64)?;
            let _ = writeln!(
                page,
                "| {} | {radius_px} | {smear_px} | {unrounded_px:.4} | {rounded_px:.4} |",
                kind.word()
            );
        }
    }
    page.push('\n');
    Ok(())
}

fn eccentricity(page: &mut String) -> Result<()> {
    let _ = writeln!(
        page,
        "### A circle at a slant\n\n\
         Projected exactly, 16 x 16 points a pixel, focal length 2500 px, distance 5 m; unrounded. \
         Without the pose the middle of the picture is read. \
         A ring has two ellipses with two middles; the fitted shading weighs them unlike, which leaves 7 % of the correction.\n\n\
         | target | radius, mm | slant | off the axis, px | without pose, px | with pose, px |\n| --- | --- | --- | --- | --- | --- |"
    );
    for case in CircleCase::table() {
        let CircleError { without_pose_px, with_pose_px } = case.error()?;
        let _ = writeln!(
            page,
            "| {} | {} | {}° | {} | {without_pose_px:.4} | {with_pose_px:.4} |",
            case.kind.word(),
            case.radius_mm,
            case.slant_deg,
            case.off_axis_px
        );
    }
    page.push('\n');
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Figures of the full tables, held by a twentieth of their pictures.
    #[test]
    fn centres_stay_at_their_bound_and_ellipses_hold() {
        let effort = Effort { places: 6, draws: 40, for_peers: 0 };
        for (kind, radius_px) in TARGETS {
            for noise_grey in [2.0, 5.0] {
                let outcome = Cell { noise_grey, ..Cell::new(kind, radius_px) }.run(effort).unwrap();
                assert_eq!(outcome.failures, 0, "{kind:?} {radius_px} {noise_grey}");
                assert!(outcome.over_window < 1.16, "{kind:?} {radius_px} {noise_grey}: {outcome:?}");
                assert!((0.9..=0.99).contains(&outcome.inside), "{kind:?} {radius_px}: {outcome:?}");
            }
            let bias = Cell::new(kind, radius_px).bias(12).unwrap();
            assert!(bias.unrounded_px < 0.003, "{kind:?} {radius_px}: {bias:?}");
        }
    }

    /// Radius 100 mm at 5 m, slant 45°, focal length 2500 px: 0.50 px (Ahn, Warnecke & Kotowski 1999).
    #[test]
    fn a_slanted_circles_middle_is_found() {
        let case = CircleCase { kind: TargetKind::Disc, radius_mm: 100.0, slant_deg: 45.0, off_axis_px: 0.0 };
        let error = case.error().unwrap();
        assert!((error.without_pose_px - 0.5).abs() < 0.01, "{error:?}");
        assert!(error.with_pose_px < 0.005, "{error:?}");
    }
}
