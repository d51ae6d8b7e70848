//! From views to a calibrated lens: checks, start, fit, views that do not belong, and the report.

use super::bundle::{State, settle};
use super::choose::{Chosen, chosen};
use super::failure::LensFitFailure;
use super::options::{LensFitOptions, LensTerms};
use super::outcome::{FittedView, GridPose, LensFit, OddView};
use super::settled::Seen;
use super::{FlatGrid, GridView, field, spread, start};
use crate::layout::map::{Form, ViewMap};
use filmgauge_quantities::{COVERAGE_95, PixelPoint, PlanePoint};
use nalgebra::Matrix3;

/// How far outside the picture a corner may lie, px: where one that is cut by the edge may be marked.
const OUTSIDE_PX: f64 = 1.0;

/// See [`super::fit_lens`].
pub(super) fn fitted(
    grid: &FlatGrid,
    views: &[GridView],
    size_px: (u32, u32),
    options: &LensFitOptions,
) -> Result<LensFit, LensFitFailure> {
    grid.check()?;
    let plane = grid.corners_m();
    let maps = views.iter().map(|view| map_of(view, &plane, size_px)).collect::<Result<Vec<_>, _>>()?;
    if views.len() < options.fewest_views {
        return Err(LensFitFailure::TooFewViews { n: views.len(), fewest: options.fewest_views });
    }
    let mut used: Vec<usize> = (0..views.len()).collect();
    let mut odd: Vec<OddView> = Vec::new();
    loop {
        let seen = Seen { grid: &plane, views: used.iter().map(|&k| views[k].corners.as_slice()).collect() };
        let maps_used: Vec<Matrix3<f64>> = used.iter().map(|&k| maps[k]).collect();
        let begun = begun(&seen, &maps_used, size_px, options)?;
        let chosen = chosen(&seen, &begun, options)
            .ok_or_else(|| LensFitFailure::NoFit { why: "the bundle does not settle".into() })?;
        let found = odd_views(&seen, &chosen, options);
        let n_left = used.len() - found.first().map_or(0, |_| 1);
        let most_out = (options.greatest_left_out * views.len() as f64).floor() as usize;
        match found.first() {
            Some(&(k, rms_px, median_px))
                if n_left >= options.fewest_views && views.len() - n_left <= most_out =>
            {
                let reason = format!(
                    "left out: its RMS residual is {:.1} times that of the median view",
                    rms_px / median_px
                );
                odd.push(OddView {
                    name: views[used[k]].name.clone(),
                    rms_px,
                    median_px,
                    is_left_out: true,
                    reason,
                });
                used.remove(k);
            }
            _ => {
                for (k, rms_px, median_px) in found {
                    let reason = format!(
                        "kept: without it fewer than {} views would be left, or too many left out",
                        options.fewest_views
                    );
                    odd.push(OddView {
                        name: views[used[k]].name.clone(),
                        rms_px,
                        median_px,
                        is_left_out: false,
                        reason,
                    });
                }
                return report(
                    &Whole { plane: &plane, views, maps: &maps, used: &used, size_px },
                    chosen,
                    odd,
                    options,
                );
            }
        }
    }
}

fn map_of(
    view: &GridView,
    plane: &[[f64; 2]],
    (width, height): (u32, u32),
) -> Result<Matrix3<f64>, LensFitFailure> {
    if view.corners.len() != plane.len() {
        return Err(LensFitFailure::Corners {
            view: view.name.clone(),
            n: view.corners.len(),
            expected: plane.len(),
        });
    }
    let inside = |at: f64, length: u32| (-OUTSIDE_PX..f64::from(length) + OUTSIDE_PX).contains(&at);
    if let Some(corner) = view.corners.iter().position(|at| !inside(at.x, width) || !inside(at.y, height)) {
        return Err(LensFitFailure::OutsidePicture { view: view.name.clone(), corner, width, height });
    }
    let on_grid = plane.iter().map(|[x_m, z_m]| PlanePoint::new(*x_m, *z_m));
    let pairs: Vec<_> = on_grid.zip(view.corners.iter().copied()).collect();
    let map = ViewMap::fitted(Form::Homography, &pairs);
    map.map(|map| *map.matrix()).ok_or_else(|| LensFitFailure::NoGrid { view: view.name.clone() })
}

/// The likeliest state to begin from: of all starting lenses the one with the least loss after a bundle with k1 alone.
fn begun(
    seen: &Seen<'_>,
    maps: &[Matrix3<f64>],
    size_px: (u32, u32),
    options: &LensFitOptions,
) -> Result<State, LensFitFailure> {
    /// A start whose residuals are below this is taken at once, px.
    const GOOD_PX: f64 = 2.0;
    let n = (seen.grid.len() * seen.views.len()) as f64;
    let mut best: Option<(f64, State)> = None;
    for lens in start::lenses(maps, size_px) {
        let poses: Option<Vec<_>> = maps.iter().map(|map| start::pose(map, &lens)).collect();
        let Some(poses) = poses else { continue };
        let problem = seen.problem(LensTerms::new(1, false).free(), None, options.most_rounds);
        let Some(settled) = settle(&problem, &State { lens, poses }) else { continue };
        if best.as_ref().is_none_or(|(loss, _)| settled.loss < *loss) {
            best = Some((settled.loss, settled.state));
        }
        if best.as_ref().is_some_and(|(loss, _)| (loss / n).sqrt() < GOOD_PX) {
            break;
        }
    }
    best.map(|(_, state)| state)
        .ok_or_else(|| LensFitFailure::NoFit { why: "no start puts the grid before the camera".into() })
}

fn rms(residuals: &[[f64; 2]]) -> f64 {
    let sum: f64 = residuals.iter().map(|[dx, dy]| dx * dx + dy * dy).sum();
    (sum / residuals.len().max(1) as f64).sqrt()
}

/// Views that do not belong, worst first: place in the list, RMS and the median view's RMS, px.
fn odd_views(seen: &Seen<'_>, chosen: &Chosen, options: &LensFitOptions) -> Vec<(usize, f64, f64)> {
    let state = &chosen.fit.settled.state;
    let all: Vec<f64> = (0..seen.views.len()).map(|view| rms(&seen.residuals(state, view))).collect();
    let mut sorted = all.clone();
    sorted.sort_by(f64::total_cmp);
    let median = sorted.get((sorted.len() - 1) / 2).copied().unwrap_or(0.0).max(f64::MIN_POSITIVE);
    // What rounding leaves of exact corners is no reason to leave a view out.
    let is_odd = |rms: f64| rms > 1e-6 && rms > options.odd_ratio * median || rms > options.odd_px;
    let mut odd: Vec<(usize, f64, f64)> =
        all.iter().enumerate().filter(|(_, rms)| is_odd(**rms)).map(|(k, rms)| (k, *rms, median)).collect();
    odd.sort_by(|a, b| b.1.total_cmp(&a.1));
    odd
}

struct Whole<'a> {
    plane: &'a [[f64; 2]],
    views: &'a [GridView],
    maps: &'a [Matrix3<f64>],
    used: &'a [usize],
    size_px: (u32, u32),
}

fn report(
    whole: &Whole<'_>,
    chosen: Chosen,
    odd: Vec<OddView>,
    options: &LensFitOptions,
) -> Result<LensFit, LensFitFailure> {
    let seen = Seen {
        grid: whole.plane,
        views: whole.used.iter().map(|&k| whole.views[k].corners.as_slice()).collect(),
    };
    let state = &chosen.fit.settled.state;
    let lens = state.lens;
    check_turns(state, options)?;
    let (variance, n_clipped) = seen.variance(&chosen.fit);
    let cov = spread::of_fit(&seen, &chosen.fit).ok_or(LensFitFailure::Open)?;
    let cov_with_choice = spread::with_choice(&seen, &chosen, &cov);
    for (value_px, variance) in [(lens.fx_px, cov[(0, 0)]), (lens.fy_px, cov[(1, 1)])] {
        let u = variance.sqrt();
        if u.is_nan() || u > options.greatest_focal_u * value_px {
            return Err(LensFitFailure::Undetermined { value_px, half_width_px: COVERAGE_95 * u });
        }
    }
    let all: Vec<[f64; 2]> = (0..whole.used.len()).flat_map(|k| seen.residuals(state, k)).collect();
    let corners: Vec<PixelPoint> = seen.views.iter().flat_map(|view| view.iter().copied()).collect();
    let views =
        whole.views.iter().enumerate().filter_map(|(k, view)| fitted_view(whole, state, k, view, options));
    Ok(LensFit {
        lens,
        terms: chosen.terms,
        cov: spread::rows(&cov),
        cov_with_choice: spread::rows(&cov_with_choice),
        rms_px: rms(&all),
        corner_sd_px: variance.sqrt(),
        n_clipped,
        views: views.collect(),
        odd,
        trials: chosen.trials,
        field: field::field(&corners, &lens, whole.size_px),
        size_px: whole.size_px,
        rounds: chosen.fit.settled.rounds,
    })
}

/// A view with its residuals; for one left out the pose is fitted with the lens held.
fn fitted_view(
    whole: &Whole<'_>,
    state: &State,
    k: usize,
    view: &GridView,
    options: &LensFitOptions,
) -> Option<FittedView> {
    let alone = Seen { grid: whole.plane, views: vec![view.corners.as_slice()] };
    let place = whole.used.iter().position(|&used| used == k);
    let pose = match place {
        Some(place) => *state.poses.get(place)?,
        None => {
            let begun =
                State { lens: state.lens, poses: vec![start::pose(whole.maps.get(k)?, &state.lens)?] };
            let problem = alone.problem([false; 9], None, options.most_rounds);
            *settle(&problem, &begun)?.state.poses.first()?
        }
    };
    let residuals_px = alone.residuals(&State { lens: state.lens, poses: vec![pose] }, 0);
    Some(FittedView {
        name: view.name.clone(),
        is_used: place.is_some(),
        rms_px: rms(&residuals_px),
        residuals_px,
        pose: GridPose::of(&pose),
    })
}

/// Whether the grid's planes differ enough to fix a lens.
fn check_turns(state: &State, options: &LensFitOptions) -> Result<(), LensFitFailure> {
    let normals: Vec<_> = state.poses.iter().map(super::pose::Pose::normal).collect();
    let pairs = normals.iter().enumerate().flat_map(|(k, a)| normals[k + 1..].iter().map(move |b| (a, b)));
    let greatest = pairs.map(|(a, b)| a.dot(b).abs().min(1.0).acos()).fold(0.0, f64::max);
    if greatest < options.least_turn_rad {
        return Err(LensFitFailure::Parallel {
            greatest_deg: greatest.to_degrees(),
            least_deg: options.least_turn_rad.to_degrees(),
        });
    }
    Ok(())
}
