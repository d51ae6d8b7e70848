//! Whether plane points can fix a homography: four of them, no three of which lie on one line.

use super::HomographyFailure;
use crate::PlaneControl;

/// Points nearer a line than this share of the layout's size count as on it.
const NEAR_SHARE: f64 = 1e-3;
/// The same in standard uncertainties of the survey.
const NEAR_SIGMA: f64 = 2.0;

pub(super) fn check(controls: &[PlaneControl]) -> Result<(), HomographyFailure> {
    let n = controls.len();
    let size_m = (0..n)
        .flat_map(|a| (0..n).map(move |b| (a, b)))
        .map(|(a, b)| length(controls, a, b))
        .fold(0.0, f64::max);
    for a in 0..n {
        for b in a + 1..n {
            let along_m = length(controls, a, b);
            let near_m = (NEAR_SHARE * size_m).max(NEAR_SIGMA * survey_u_m(controls));
            if along_m <= near_m {
                continue;
            }
            let off: Vec<usize> =
                (0..n).filter(|&c| distance_m(controls, a, b, c) * along_m / size_m > near_m).collect();
            match off[..] {
                [] => return Err(HomographyFailure::Collinear { ids: names(controls) }),
                [one] => return Err(HomographyFailure::AllButOne { id: controls[one].id.clone() }),
                _ => {}
            }
        }
    }
    let far_apart = (0..n).any(|b| length(controls, 0, b) > 0.0);
    if far_apart { Ok(()) } else { Err(HomographyFailure::Collinear { ids: names(controls) }) }
}

fn names(controls: &[PlaneControl]) -> String {
    controls.iter().map(|control| control.id.as_str()).collect::<Vec<_>>().join(", ")
}

fn length(controls: &[PlaneControl], a: usize, b: usize) -> f64 {
    let along = controls[b].at - controls[a].at;
    along.x_m.hypot(along.z_m)
}

/// Distance of point `c` from the line through `a` and `b`, m.
fn distance_m(controls: &[PlaneControl], a: usize, b: usize, c: usize) -> f64 {
    let (along, to) = (controls[b].at - controls[a].at, controls[c].at - controls[a].at);
    (along.x_m * to.z_m - along.z_m * to.x_m).abs() / along.x_m.hypot(along.z_m)
}

/// Greatest standard uncertainty of the survey along an axis, m.
fn survey_u_m(controls: &[PlaneControl]) -> f64 {
    controls
        .iter()
        .map(|control| control.at_cov.xx.max(control.at_cov.zz).max(0.0).sqrt())
        .fold(0.0, f64::max)
}
