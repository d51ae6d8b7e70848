//! Lines and bands as paths. A gap breaks both; crowded curves keep the first, least, greatest and last point of each
//! column of paper, so that no spike is lost.

use super::axis::Axis;
use super::style::CurveStyle;
use super::svg::Svg;
use filmgauge_results::Curve;

/// One place of a curve on paper: across, and from `low` to `high` (equal for a line).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Place {
    pub(crate) x: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// Draws the curve's line.
pub(super) fn line(svg: &mut Svg, curve: &Curve, style: CurveStyle, across: &Axis, up: &Axis) {
    let mut path = String::new();
    for run in line_runs(curve, across, up) {
        for (at, place) in run.iter().enumerate() {
            path.push_str(&format!("{}{:.2} {:.2}", if at == 0 { 'M' } else { 'L' }, place.x, place.low));
        }
        if run.len() == 1 {
            // A lone mark between two gaps: a line of no length, which the round line end makes a dot.
            path.push_str("h0");
        }
    }
    svg.path(&format!("curve {}", style.class()), &path);
}

/// Draws the curve's band, if it has one.
pub(super) fn band(svg: &mut Svg, curve: &Curve, style: CurveStyle, across: &Axis, up: &Axis) {
    if curve.band.is_none() {
        return;
    }
    let mut path = String::new();
    for run in band_runs(curve, across, up) {
        for (at, place) in run.iter().enumerate() {
            path.push_str(&format!("{}{:.2} {:.2}", if at == 0 { 'M' } else { 'L' }, place.x, place.high));
        }
        for place in run.iter().rev() {
            path.push_str(&format!("L{:.2} {:.2}", place.x, place.low));
        }
        path.push('Z');
    }
    svg.path(&format!("band {}", style.class()), &path);
}

/// The curve's line on paper, thinned; `across` is in ms.
pub(crate) fn line_runs(curve: &Curve, across: &Axis, up: &Axis) -> Vec<Vec<Place>> {
    let places = curve.points.iter().map(|point| {
        let y = up.place(point.value?);
        Some(Place { x: across.place(1000.0 * point.time_s), low: y, high: y })
    });
    runs(places).iter().map(|run| thinned_line(run)).collect()
}

/// The curve's band on paper, thinned; empty without one.
pub(crate) fn band_runs(curve: &Curve, across: &Axis, up: &Axis) -> Vec<Vec<Place>> {
    let half_widths = curve.band.iter().flat_map(|band| &band.half_width);
    let places = curve.points.iter().zip(half_widths).map(|(point, half_width)| {
        let (value, half_width) = (point.value?, (*half_width)?);
        Some(Place {
            x: across.place(1000.0 * point.time_s),
            low: up.place(value - half_width),
            high: up.place(value + half_width),
        })
    });
    runs(places).iter().map(|run| thinned_band(run)).collect()
}

/// Stretches without a gap.
fn runs(places: impl Iterator<Item = Option<Place>>) -> Vec<Vec<Place>> {
    let mut runs = vec![Vec::new()];
    for place in places {
        match (place, runs.last_mut()) {
            (Some(place), Some(run)) => run.push(place),
            (None, Some(run)) if !run.is_empty() => runs.push(Vec::new()),
            _ => {}
        }
    }
    runs.retain(|run| !run.is_empty());
    runs
}

fn thinned_line(run: &[Place]) -> Vec<Place> {
    let mut kept = Vec::new();
    for column in run.chunk_by(|one, next| one.x.floor() == next.x.floor()) {
        if column.len() <= 4 {
            kept.extend_from_slice(column);
            continue;
        }
        let extreme = |better: fn(f64, f64) -> bool| {
            (0..column.len())
                .reduce(|best, at| if better(column[at].low, column[best].low) { at } else { best })
        };
        let mut indices = vec![
            Some(0),
            extreme(|new, old| new < old),
            extreme(|new, old| new > old),
            Some(column.len() - 1),
        ];
        indices.sort_unstable();
        indices.dedup();
        kept.extend(indices.into_iter().flatten().map(|at| column[at]));
    }
    kept
}

fn thinned_band(run: &[Place]) -> Vec<Place> {
    let columns = run.chunk_by(|one, next| one.x.floor() == next.x.floor());
    columns
        .flat_map(|column| {
            if column.len() <= 2 {
                return column.to_vec();
            }
            // On paper y grows downwards: the low edge is the greatest y.
            let low = column.iter().fold(f64::NEG_INFINITY, |low, place| low.max(place.low));
            let high = column.iter().fold(f64::INFINITY, |high, place| high.min(place.high));
            vec![Place { x: column[0].x, low, high }, Place { x: column[column.len() - 1].x, low, high }]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_of_one_sample_survives_thinning() {
        let run: Vec<Place> = (0..100_000_u32)
            .map(|at| {
                let y = if at == 54_321 { 99.0 } else { 1.0 };
                Place { x: f64::from(at) * 0.007, low: y, high: y }
            })
            .collect();
        let kept = thinned_line(&run);
        assert!(kept.len() <= 4 * 701, "{}", kept.len());
        assert_eq!(kept.iter().filter(|place| place.low > 98.0).count(), 1);
        assert_eq!(kept.last(), run.last());
        assert!(thinned_band(&run).iter().any(|place| place.low > 98.0));
    }

    #[test]
    fn gaps_part_runs() {
        let place = Place { x: 0.0, low: 0.0, high: 0.0 };
        let runs = runs([None, Some(place), None, None, Some(place), Some(place), None].into_iter());
        assert_eq!(runs.iter().map(Vec::len).collect::<Vec<_>>(), [1, 2]);
    }
}
