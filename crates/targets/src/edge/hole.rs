//! Corners and perforations from their edges.

use super::{EdgeBox, EdgeFailure, EdgeLine, EdgeOptions, EdgeRun, EdgeStep, locate_edge};
use filmgauge_quantities::{GreyView, PixelCov, PixelPoint};

/// How far the second look seeks, px: the first has found the hole to a fraction of a pixel.
const SECOND_SEARCH_PX: f64 = 1.0;

/// Which way a corner's two edges run from it, and how far they are read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CornerArms {
    /// The level edge runs to the right of the corner, else to the left.
    pub to_right: bool,
    /// The upright edge runs down from the corner, else up.
    pub to_bottom: bool,
    /// Length of both, px.
    pub length_px: f64,
}

/// A located corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Where its edges' lines meet.
    pub at: PixelPoint,
    /// Its covariance.
    pub cov: PixelCov,
    /// The edge that runs up and down.
    pub upright: EdgeLine,
    /// The edge that runs left to right.
    pub level: EdgeLine,
}

/// A located perforation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perforation {
    /// Where the lines midway between opposite sides meet.
    pub centre: PixelPoint,
    /// Its covariance.
    pub cov: PixelCov,
    /// Turn of its sides from x towards y, rad.
    pub turn_rad: f64,
    /// Variance of that, rad².
    pub turn_var: f64,
    /// Width, px.
    pub width_px: f64,
    /// Height, px.
    pub height_px: f64,
    /// Whether it is brighter than the film about it.
    pub is_bright: bool,
}

/// The corner near a place. The stretch next to the corner itself, `corner_px` long, is left out.
///
/// # Errors
/// [`EdgeFailure`] says why there is no corner to be had here.
pub fn locate_corner(
    view: &GreyView,
    near: PixelPoint,
    arms: CornerArms,
    options: &EdgeOptions,
) -> Result<Corner, EdgeFailure> {
    let first = corner_once(view, near, arms, options.search_px, options)?;
    corner_once(view, first.at, arms, SECOND_SEARCH_PX.min(options.search_px), options)
}

fn corner_once(
    view: &GreyView,
    near: PixelPoint,
    arms: CornerArms,
    search_px: f64,
    options: &EdgeOptions,
) -> Result<Corner, EdgeFailure> {
    let arm = |at: f64, forward: bool| {
        let from = search_px + options.corner_px;
        let (a, b) =
            if forward { (at + from, at + arms.length_px) } else { (at - arms.length_px, at - from) };
        (a, b)
    };
    let (top, bottom) = arm(near.y, arms.to_bottom);
    let (left, right) = arm(near.x, arms.to_right);
    let beside = EdgeBox { left: near.x - search_px, right: near.x + search_px, top, bottom };
    let upright = locate_edge(view, &beside, EdgeRun::Upright, EdgeStep::Either, options)?;
    let beside = EdgeBox { left, right, top: near.y - search_px, bottom: near.y + search_px };
    let level = locate_edge(view, &beside, EdgeRun::Level, EdgeStep::Either, options)?;
    let (at, cov) = meeting(&upright, &level);
    Ok(Corner { at, cov, upright, level })
}

/// The perforation of about the size and place of `near`, bright on dark film or dark on bright.
///
/// # Errors
/// [`EdgeFailure`] says why there is no such hole to be had here.
pub fn locate_perforation(
    view: &GreyView,
    near: &EdgeBox,
    options: &EdgeOptions,
) -> Result<Perforation, EdgeFailure> {
    let is_bright = is_bright(view, near)?;
    let first = hole_once(view, near, is_bright, options.search_px, options)?;
    let (half_width, half_height) = (0.5 * (near.right - near.left), 0.5 * (near.bottom - near.top));
    let about = EdgeBox {
        left: first.centre.x - half_width,
        right: first.centre.x + half_width,
        top: first.centre.y - half_height,
        bottom: first.centre.y + half_height,
    };
    let search_px = SECOND_SEARCH_PX.max(options.size_tolerance_px).min(options.search_px);
    hole_once(view, &about, is_bright, search_px, options)
}

fn hole_once(
    view: &GreyView,
    near: &EdgeBox,
    is_bright: bool,
    search_px: f64,
    options: &EdgeOptions,
) -> Result<Perforation, EdgeFailure> {
    let (into, out) = if is_bright {
        (EdgeStep::Brighter, EdgeStep::Darker)
    } else {
        (EdgeStep::Darker, EdgeStep::Brighter)
    };
    let in_from = search_px + options.corner_px;
    let side = |run: EdgeRun, at: f64, step: EdgeStep| {
        let area = match run {
            EdgeRun::Upright => EdgeBox {
                left: at - search_px,
                right: at + search_px,
                top: near.top + in_from,
                bottom: near.bottom - in_from,
            },
            EdgeRun::Level => EdgeBox {
                left: near.left + in_from,
                right: near.right - in_from,
                top: at - search_px,
                bottom: at + search_px,
            },
        };
        locate_edge(view, &area, run, step, options)
    };
    let left = side(EdgeRun::Upright, near.left, into)?;
    let right = side(EdgeRun::Upright, near.right, out)?;
    let top = side(EdgeRun::Level, near.top, into)?;
    let bottom = side(EdgeRun::Level, near.bottom, out)?;
    assembled(near, [&left, &right, &top, &bottom], is_bright, options)
}

fn assembled(
    near: &EdgeBox,
    [left, right, top, bottom]: [&EdgeLine; 4],
    is_bright: bool,
    options: &EdgeOptions,
) -> Result<Perforation, EdgeFailure> {
    let (centre, cov) = meeting(&midway(left, right), &midway(top, bottom));
    let width_px = right.at(centre.y).0 - left.at(centre.y).0;
    let height_px = bottom.at(centre.x).0 - top.at(centre.x).0;
    let off = |size: f64, wanted: f64| (size - wanted).abs() > options.size_tolerance_px;
    if off(width_px, near.right - near.left) || off(height_px, near.bottom - near.top) {
        return Err(EdgeFailure::WrongSize { width_px, height_px });
    }
    // A turn from x towards y carries level sides down to the right, and upright ones to the left going down.
    let turns = [(-left.lean, left), (-right.lean, right), (top.lean, top), (bottom.lean, bottom)];
    let weight: f64 = turns.iter().map(|(_, line)| 1.0 / line.lean_var).sum();
    let turn: f64 = turns.iter().map(|(lean, line)| lean.atan() / line.lean_var).sum();
    Ok(Perforation {
        centre,
        cov,
        turn_rad: turn / weight,
        turn_var: 1.0 / weight,
        width_px,
        height_px,
        is_bright,
    })
}

/// The line midway between two that run alike and were read independently.
fn midway(a: &EdgeLine, b: &EdgeLine) -> EdgeLine {
    let middle_px = 0.5 * (a.middle_px + b.middle_px);
    let ((at_a, var_a), (at_b, var_b)) = (a.at(middle_px), b.at(middle_px));
    let leaning = |line: &EdgeLine| line.place_lean_cov + (middle_px - line.middle_px) * line.lean_var;
    EdgeLine {
        middle_px,
        place_px: 0.5 * (at_a + at_b),
        lean: 0.5 * (a.lean + b.lean),
        place_var_px2: 0.25 * (var_a + var_b),
        place_lean_cov: 0.25 * (leaning(a) + leaning(b)),
        lean_var: 0.25 * (a.lean_var + b.lean_var),
        ..*a
    }
}

/// Where an upright and a level line meet, with the covariance of two independent lines.
fn meeting(upright: &EdgeLine, level: &EdgeLine) -> (PixelPoint, PixelCov) {
    let (s, t) = (upright.lean, level.lean);
    let det = 1.0 - s * t;
    let x = (upright.place_px + s * (level.place_px - t * level.middle_px - upright.middle_px)) / det;
    let y = level.place_px + t * (x - level.middle_px);
    let (across, along) = (upright.at(y).1, level.at(x).1);
    let scale = 1.0 / (det * det);
    let cov = PixelCov {
        xx: scale * (across + s * s * along),
        xy: scale * (t * across + s * along),
        yy: scale * (along + t * t * across),
    };
    (PixelPoint::new(x, y), cov)
}

/// Whether the middle of a box is brighter than the picture just outside its left and right side.
fn is_bright(view: &GreyView, near: &EdgeBox) -> Result<bool, EdgeFailure> {
    let width = near.right - near.left;
    let row = 0.5 * (near.top + near.bottom);
    let level = |x: f64| {
        let inside = x >= 0.0 && row >= 0.0;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked not to be negative"
        )]
        inside.then(|| view.get(x.round() as usize, row.round() as usize)).flatten()
    };
    let inside = level(0.5 * (near.left + near.right)).ok_or(EdgeFailure::OutOfView)?;
    let beside = [near.left - 0.4 * width, near.right + 0.4 * width].into_iter().filter_map(level);
    let (sum, n) = beside.fold((0.0, 0.0), |(sum, n), grey| (sum + grey, n + 1.0));
    if n > 0.0 { Ok(inside > sum / n) } else { Err(EdgeFailure::OutOfView) }
}
