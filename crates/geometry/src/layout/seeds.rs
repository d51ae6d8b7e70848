//! First views of a layout: every way in which two or three of its targets could be two or three of the places seen.

use super::map::ViewMap;
use super::{LayoutOptions, Seen, Surveyed, ViewModel, XRuns};
use filmgauge_quantities::PlanePoint;

/// Sets of targets that first views are made of, widest first; no target is in more than half of them.
const MOST_SETS: usize = 16;
/// Sets narrower than this share of the widest fix a view badly.
const NARROW: f64 = 0.15;
/// Least ratio of a first view's scales along its two main directions: a slant of 60°.
const LEAST_AXIS_RATIO: f64 = 0.5;

/// Whether a place may be a target by its kind.
pub(super) fn are_alike(seen: &Seen, surveyed: &Surveyed) -> bool {
    seen.kind.is_none() || surveyed.kind.is_none() || seen.kind == surveyed.kind
}

/// Calls `each` with every first view that is possible. `None` when the layout fixes none.
pub(super) fn seeds(
    seen: &[Seen],
    layout: &[Surveyed],
    options: &LayoutOptions,
    mut each: impl FnMut(ViewMap),
) -> Option<()> {
    let n_each = if options.model == ViewModel::Similarity { 2 } else { 3 };
    let middle = middle(layout);
    for set in wide_sets(layout, n_each)? {
        let mut chosen = Vec::with_capacity(n_each);
        all_choices(seen, layout, &set, &mut chosen, &mut |chosen| {
            let pair = |k: usize| (layout[set[k]].at, seen[chosen[k]].place);
            let maps = if n_each == 3 {
                [ViewMap::through_three(&[pair(0), pair(1), pair(2)]), None]
            } else {
                [true, false].map(|is_flipped| ViewMap::through_two(&[pair(0), pair(1)], is_flipped))
            };
            maps.into_iter().flatten().filter(|map| is_possible(map, middle, options)).for_each(&mut each);
        });
    }
    Some(())
}

/// Whether up is up, x runs as it should, and the slant is not too great.
pub(super) fn is_possible(map: &ViewMap, middle: PlanePoint, options: &LayoutOptions) -> bool {
    let Some([x, z]) = map.steps(middle) else { return false };
    let roll = z[0].abs().atan2(-z[1]);
    let runs = match options.x_runs {
        XRuns::Right => x[0] > 0.0,
        XRuns::Left => x[0] < 0.0,
        XRuns::Either => true,
    };
    let (sum, product) =
        (x[0].powi(2) + x[1].powi(2) + z[0].powi(2) + z[1].powi(2), x[0] * z[1] - x[1] * z[0]);
    // Of scales a and b: a² + b², and a b.
    let ratio = 2.0 * product.abs() / sum;
    roll <= options.greatest_roll_rad
        && runs
        && ratio >= 2.0 * LEAST_AXIS_RATIO / (1.0 + LEAST_AXIS_RATIO.powi(2))
}

/// The middle of a layout.
pub(super) fn middle(layout: &[Surveyed]) -> PlanePoint {
    let n = layout.len().max(1) as f64;
    let sum = layout.iter().fold(PlanePoint::new(0.0, 0.0), |sum, target| sum + target.at);
    PlanePoint::new(sum.x_m / n, sum.z_m / n)
}

/// Sets of two or three targets that lie widest apart; `None` when all lie on one line (three) or in one place (two).
fn wide_sets(layout: &[Surveyed], n_each: usize) -> Option<Vec<Vec<usize>>> {
    let n = layout.len();
    let away = |a: usize, b: usize| layout[b].at - layout[a].at;
    let mut sets: Vec<(f64, Vec<usize>)> = Vec::new();
    for a in 0..n {
        for b in a + 1..n {
            let ab = away(a, b);
            if n_each == 2 {
                sets.push((ab.x_m.hypot(ab.z_m), vec![a, b]));
                continue;
            }
            for c in b + 1..n {
                let ac = away(a, c);
                sets.push(((ab.x_m * ac.z_m - ab.z_m * ac.x_m).abs(), vec![a, b, c]));
            }
        }
    }
    sets.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let widest = sets.first()?.0;
    let length = (0..n).map(|b| away(0, b)).map(|ab| ab.x_m.hypot(ab.z_m)).fold(0.0, f64::max);
    let least = 1e-3 * length.powi(n_each as i32 - 1);
    if widest.is_nan() || widest <= least || length <= 0.0 {
        return None;
    }
    let mut uses = vec![0; n];
    let mut kept: Vec<Vec<usize>> = Vec::new();
    for (width, set) in sets {
        let is_free = set.iter().all(|&target| uses[target] < MOST_SETS / 2);
        if kept.len() < MOST_SETS && width > NARROW * widest && is_free {
            set.iter().for_each(|&target| uses[target] += 1);
            kept.push(set);
        }
    }
    Some(kept)
}

/// Every ordered choice of different places, alike in kind, for the targets of a set.
fn all_choices(
    seen: &[Seen],
    layout: &[Surveyed],
    set: &[usize],
    chosen: &mut Vec<usize>,
    each: &mut impl FnMut(&[usize]),
) {
    let Some(&target) = set.get(chosen.len()) else { return each(chosen) };
    for at in 0..seen.len() {
        if !chosen.contains(&at) && are_alike(&seen[at], &layout[target]) {
            chosen.push(at);
            all_choices(seen, layout, set, chosen, each);
            chosen.pop();
        }
    }
}
