//! Curves made thin enough for a screen without losing a spike: per column its least and greatest value.

use filmgauge_results::Curve;

/// A stretch without a gap: times, values, and half-widths of the band where there is one.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Stretch {
    /// Time and value.
    pub(crate) points: Vec<[f64; 2]>,
    /// Time, lower and upper edge of the band.
    pub(crate) band: Vec<[f64; 3]>,
}

/// Stretches of a curve between two instants, with at most about four points a column.
pub(crate) fn thinned(curve: &Curve, from_s: f64, to_s: f64, columns: usize) -> Vec<Stretch> {
    let points = &curve.points;
    // One point beyond each end, so that lines run to the edge.
    let first = points.partition_point(|point| point.time_s < from_s).saturating_sub(1);
    let last = (points.partition_point(|point| point.time_s <= to_s) + 1).min(points.len());
    if first >= last {
        return Vec::new();
    }
    let width = ((to_s - from_s) / columns.max(1) as f64).max(f64::MIN_POSITIVE);
    let column = |time_s: f64| ((time_s - from_s) / width).floor() as i64;
    let mut stretches = Vec::new();
    let mut stretch = Stretch::default();
    let mut at = first;
    while at < last {
        let Some(value) = points[at].value else {
            if !stretch.points.is_empty() {
                stretches.push(std::mem::take(&mut stretch));
            }
            at += 1;
            continue;
        };
        let here = column(points[at].time_s);
        let (mut low, mut high, mut end) = ((at, value), (at, value), at);
        while end + 1 < last && column(points[end + 1].time_s) == here {
            let Some(next) = points[end + 1].value else { break };
            end += 1;
            if next < low.1 {
                low = (end, next);
            }
            if next > high.1 {
                high = (end, next);
            }
        }
        push(&mut stretch, curve, [at, low.0.min(high.0), low.0.max(high.0), end]);
        at = end + 1;
    }
    if !stretch.points.is_empty() {
        stretches.push(stretch);
    }
    stretches
}

/// Adds the named points once each, in order.
fn push(stretch: &mut Stretch, curve: &Curve, wanted: [usize; 4]) {
    let mut before = None;
    for at in wanted {
        let Some(value) = curve.points[at].value.filter(|_| before != Some(at)) else { continue };
        before = Some(at);
        let time_s = curve.points[at].time_s;
        stretch.points.push([time_s, value]);
        let half = curve.band.as_ref().and_then(|band| band.half_width.get(at).copied().flatten());
        if let Some(half) = half {
            stretch.band.push([time_s, value - half, value + half]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_results::CurvePoint;

    fn curve(values: impl IntoIterator<Item = Option<f64>>) -> Curve {
        let points = values.into_iter().enumerate();
        let points = points.map(|(n, value)| CurvePoint { time_s: n as f64 * 1e-4, value }).collect();
        Curve { label: "car, film".into(), source: "film".into(), points, band: None }
    }

    #[test]
    fn a_spike_of_one_sample_survives() {
        let long = curve((0..20_000).map(|n| Some(if n == 12_345 { 99.0 } else { (n % 7) as f64 })));
        let stretches = thinned(&long, 0.0, 2.0, 600);
        assert_eq!(stretches.len(), 1);
        assert!(stretches[0].points.len() <= 4 * 602, "{}", stretches[0].points.len());
        assert!(stretches[0].points.iter().any(|point| point[1] == 99.0));
        assert!(stretches[0].points.windows(2).all(|pair| pair[0][0] < pair[1][0]));
    }

    #[test]
    fn a_gap_breaks_the_line_and_few_points_stay_as_they_are() {
        let short = curve([Some(1.0), Some(2.0), None, Some(4.0)]);
        let stretches = thinned(&short, 0.0, 1.0, 1000);
        let values = |stretch: &Stretch| stretch.points.iter().map(|point| point[1]).collect::<Vec<_>>();
        assert_eq!(stretches.iter().map(values).collect::<Vec<_>>(), [vec![1.0, 2.0], vec![4.0]]);
        assert!(thinned(&curve([]), 0.0, 1.0, 10).is_empty());
    }
}
