//! Lays a layout over the places seen: first views are counted out, the best are settled, and rivals are held against them.

use super::map::{Form, ViewMap};
use super::seeds::{are_alike, is_possible, middle, seeds};
use super::{LayoutFailure, LayoutMatch, LayoutOptions, Seen, Surveyed, ViewModel};
use filmgauge_quantities::{PixelCov, PixelPoint, PlanePoint};

/// First assignments that are settled, best first.
const MOST_SETTLED: usize = 60;
/// A first view is this far off at most, of the layout's size in the picture: it knows no perspective yet, or stands on
/// two places alone.
const LOOSE_SHARE: f64 = 0.08;
/// Rounds of fit and new assignment.
const ROUNDS: usize = 5;

/// For each target of the layout the place that it is.
type Places = Vec<Option<usize>>;

/// An assignment that was settled.
struct Settled {
    places: Places,
    map: ViewMap,
    n: usize,
    chi2: f64,
    squares: f64,
}

/// Which target of `layout` each of the places `seen` is. Settings are taken to be in range: see [`LayoutOptions::check`].
///
/// Every way in which a few targets could be a few of the places is tried in a fixed order; nothing is drawn by lot.
///
/// # Errors
/// [`LayoutFailure`] says why the places cannot be told apart.
pub fn match_layout(
    seen: &[Seen],
    layout: &[Surveyed],
    options: &LayoutOptions,
) -> Result<LayoutMatch, LayoutFailure> {
    let n_seen = seen.len();
    let seen = &seen[..n_seen.min(options.most_seen)];
    let fewest = options.model.fewest();
    if seen.len() < fewest || layout.len() < fewest {
        return Err(LayoutFailure::TooFew { n_surveyed: layout.len(), n_seen, needed: fewest });
    }
    let share = (options.least_share * layout.len() as f64).ceil() as usize;
    // One more than fixes the view, so that something is checked, where the layout has so many.
    let needed = share.max(layout.len().min(fewest + 1));
    let mut settled: Vec<Settled> = Vec::new();
    for first in first_assignments(seen, layout, options).ok_or(LayoutFailure::Collinear)? {
        if let Some(next) = settle(first, seen, layout, options)
            && settled.iter().all(|other| other.places != next.places)
        {
            settled.push(next);
        }
    }
    settled.sort_by(|a, b| b.n.cmp(&a.n).then(a.chi2.total_cmp(&b.chi2)));
    let n_matched = settled.first().map_or(0, |best| best.n);
    let Some(best) = settled.first().filter(|best| best.n >= needed) else {
        return Err(LayoutFailure::NoFit { n_matched, n_surveyed: layout.len(), needed });
    };
    let is_rival = |other: &&Settled| other.n == best.n && other.chi2 - best.chi2 < options.equal_chi2;
    if let Some(rival) = settled.iter().skip(1).find(is_rival) {
        return Err(ambiguous(best, rival, seen, layout));
    }
    Ok(LayoutMatch {
        targets: by_place(&best.places, n_seen),
        n_matched: best.n,
        n_spare: (2 * best.n).saturating_sub(options.model.n_terms()),
        rms_px: (best.squares / (2.0 * best.n as f64)).sqrt(),
        map: best.map,
    })
}

/// The target of each place.
fn by_place(places: &Places, n_seen: usize) -> Vec<Option<usize>> {
    let mut targets = vec![None; n_seen];
    for (target, place) in places.iter().enumerate() {
        if let Some(place) = place {
            targets[*place] = Some(target);
        }
    }
    targets
}

fn ambiguous(best: &Settled, rival: &Settled, seen: &[Seen], layout: &[Surveyed]) -> LayoutFailure {
    let (first, second) = (by_place(&best.places, seen.len()), by_place(&rival.places, seen.len()));
    let at = (0..seen.len()).find(|&at| first[at] != second[at]).unwrap_or(0);
    let name = |target: Option<usize>| {
        target.map_or_else(|| "no target".to_owned(), |target| layout[target].id.clone())
    };
    LayoutFailure::Ambiguous { place: seen[at].place, first: name(first[at]), second: name(second[at]) }
}

/// Assignments by all first views, those of most targets first, each once; `None` when the layout fixes no view.
fn first_assignments(seen: &[Seen], layout: &[Surveyed], options: &LayoutOptions) -> Option<Vec<Places>> {
    let centre = middle(layout);
    let size_m =
        layout.iter().map(|target| target.at - centre).map(|at| at.x_m.hypot(at.z_m)).fold(0.0, f64::max);
    let mut found: std::collections::BTreeMap<Places, (usize, f64)> = std::collections::BTreeMap::new();
    let mut most = options.model.fewest();
    seeds(seen, layout, options, |map| {
        let Some([x, z]) = map.steps(centre) else { return };
        let px_per_m = x[0].hypot(x[1]).max(z[0].hypot(z[1]));
        let gate = 3.0 * options.model_u_px + LOOSE_SHARE * size_m * px_per_m;
        let (places, squares) = nearest(seen, layout, |target, at| {
            let expected = map.image_from_plane(layout[target].at)?;
            let away = expected.distance(seen[at].place) / gate;
            (away < 1.0).then_some(away * away)
        });
        let n = count(&places);
        // One fewer may become as many once the view is settled.
        if n + 1 >= most {
            most = most.max(n);
            let known = found.entry(places).or_insert((n, squares));
            known.1 = known.1.min(squares);
        }
    })?;
    let mut ranked: Vec<(Places, (usize, f64))> = found.into_iter().collect();
    ranked.sort_by(|a, b| b.1.0.cmp(&a.1.0).then(a.1.1.total_cmp(&b.1.1)));
    ranked.truncate(MOST_SETTLED);
    Some(ranked.into_iter().map(|(places, _)| places).collect())
}

fn count(places: &Places) -> usize {
    places.iter().flatten().count()
}

/// The nearest place of each target by a measure, each place once, and the sum of the measures.
fn nearest(
    seen: &[Seen],
    layout: &[Surveyed],
    measure: impl Fn(usize, usize) -> Option<f64>,
) -> (Places, f64) {
    let mut owners: Vec<Option<(usize, f64)>> = vec![None; seen.len()];
    for (target, surveyed) in layout.iter().enumerate() {
        let near = (0..seen.len())
            .filter(|&at| are_alike(&seen[at], surveyed))
            .filter_map(|at| Some((at, measure(target, at)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((at, away)) = near
            && owners[at].is_none_or(|(_, other)| away < other)
        {
            owners[at] = Some((target, away));
        }
    }
    let mut places = vec![None; layout.len()];
    for (at, owner) in owners.iter().enumerate() {
        if let Some((target, _)) = owner {
            places[*target] = Some(at);
        }
    }
    (places, owners.iter().flatten().map(|(_, away)| away).sum())
}

/// Fits the view and assigns anew until both stay; `None` when it does not hold.
fn settle(first: Places, seen: &[Seen], layout: &[Surveyed], options: &LayoutOptions) -> Option<Settled> {
    let mut places = first;
    for round in 0..ROUNDS {
        let map = fitted(&places, seen, layout, options)?;
        // The first fit may still hold a wrong pair.
        let gate = options.greatest_chi2 * if round == 0 { 16.0 } else { 1.0 };
        let (next, chi2) = nearest(seen, layout, |target, at| {
            let chi2 = square(&map, &seen[at], &layout[target], options)?;
            (chi2 < gate).then_some(chi2)
        });
        if next == places && round > 0 {
            let pairs = places.iter().enumerate().filter_map(|(target, at)| Some((target, (*at)?)));
            let away = pairs.filter_map(|(target, at)| {
                Some(map.image_from_plane(layout[target].at)?.distance(seen[at].place).powi(2))
            });
            let settled = Settled { n: count(&places), chi2, squares: away.sum(), map, places };
            return Some(settled);
        }
        places = next;
    }
    None
}

/// The possible view nearest to an assignment.
fn fitted(places: &Places, seen: &[Seen], layout: &[Surveyed], options: &LayoutOptions) -> Option<ViewMap> {
    let pairs: Vec<_> = places
        .iter()
        .zip(layout)
        .filter_map(|(place, target)| Some((target.at, seen[(*place)?].place)))
        .collect();
    let forms: &[Form] = match options.model {
        ViewModel::Homography => &[Form::Homography],
        ViewModel::Similarity => {
            &[Form::Similarity { is_flipped: true }, Form::Similarity { is_flipped: false }]
        }
    };
    let centre = middle(layout);
    let maps = forms.iter().filter_map(|&form| ViewMap::fitted(form, &pairs));
    maps.filter(|map| is_possible(map, centre, options))
        .min_by(|a, b| misfit(a, &pairs).total_cmp(&misfit(b, &pairs)))
}

fn misfit(map: &ViewMap, pairs: &[(PlanePoint, PixelPoint)]) -> f64 {
    let away = pairs.iter().map(|(from, to)| map.image_from_plane(*from).map_or(1e9, |at| at.distance(*to)));
    away.map(|away| away * away).sum()
}

/// Squared distance of a place from a target over the covariance of both.
fn square(map: &ViewMap, seen: &Seen, target: &Surveyed, options: &LayoutOptions) -> Option<f64> {
    let expected = map.image_from_plane(target.at)?;
    let [x, z] = map.steps(target.at)?;
    let (model, survey) = (options.model_u_px.powi(2), options.survey_u_m.powi(2));
    let cov = PixelCov {
        xx: seen.cov.xx + model + survey * (x[0] * x[0] + z[0] * z[0]),
        xy: seen.cov.xy + survey * (x[0] * x[1] + z[0] * z[1]),
        yy: seen.cov.yy + model + survey * (x[1] * x[1] + z[1] * z[1]),
    };
    cov.mahalanobis2(seen.place.x - expected.x, seen.place.y - expected.y)
}
