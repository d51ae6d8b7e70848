//! Control points: surveyed places and where a camera sees them; faults of a list that show before any fit.

use filmgauge_quantities::{PixelCov, PixelPoint, PlaneCov, PlanePoint, SpaceCov, SpacePoint};

/// Deviations from the median beyond so many times the others' mark a coordinate in another unit: mm for m is 1000.
const OTHER_UNIT: f64 = 200.0;

/// A point surveyed in a plane, and where it is seen.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneControl {
    /// Its name; no two of a list are alike.
    pub id: String,
    /// Where the survey puts it.
    pub at: PlanePoint,
    /// Covariance of the survey, m²; independent from point to point.
    pub at_cov: PlaneCov,
    /// Where it is seen, px.
    pub seen: PixelPoint,
    /// Covariance of the mark, px².
    pub seen_cov: PixelCov,
}

/// A point surveyed in space, and where it is seen.
#[derive(Debug, Clone, PartialEq)]
pub struct SpaceControl {
    /// Its name; no two of a list are alike.
    pub id: String,
    /// Where the survey puts it.
    pub at: SpacePoint,
    /// Covariance of the survey, m²; independent from point to point.
    pub at_cov: SpaceCov,
    /// Where it is seen, px.
    pub seen: PixelPoint,
    /// Covariance of the mark, px².
    pub seen_cov: PixelCov,
}

/// How far a control point's mark lies from where the fit puts it.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlResidual {
    /// The point's name.
    pub id: String,
    /// Mark less fit along the rows, px.
    pub x_px: f64,
    /// Mark less fit along the columns, px.
    pub y_px: f64,
    /// Squared residual over the covariance of mark and survey.
    pub chi2: f64,
}

/// Why a list of control points cannot be used as it stands.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ControlFault {
    /// A number is missing its meaning.
    #[error("{id}: its {what} is not a number; correct the point")]
    NotFinite {
        /// The point.
        id: String,
        /// Place, mark or covariance.
        what: &'static str,
    },
    /// A mark without doubt would have all the weight.
    #[error("{id}: the covariance of its mark is not positive; state how well it was read")]
    NoDoubt {
        /// The point.
        id: String,
    },
    /// Two points of one name.
    #[error("two control points are named {id}; give each its own name")]
    SameName {
        /// The name.
        id: String,
    },
    /// One coordinate is far from all others.
    #[error(
        "{id}: {axis} is given as {value_m} m, while the other points lie within {spread_m:.3} m of {middle_m:.3} m; \
         is it in millimetres? Coordinates are metres"
    )]
    OtherUnit {
        /// The point.
        id: String,
        /// The axis.
        axis: &'static str,
        /// Its value as given, m.
        value_m: f64,
        /// Median of the list, m.
        middle_m: f64,
        /// Greatest deviation of the others from it, m.
        spread_m: f64,
    },
    /// The whole list is of an implausible size.
    #[error(
        "the control points span {span_m:.4} m, outside {least_m} to {most_m} m; are their coordinates in metres?"
    )]
    Span {
        /// Greatest distance of two points along an axis, m.
        span_m: f64,
        /// Least that is taken as plausible, m.
        least_m: f64,
        /// Most that is taken as plausible, m.
        most_m: f64,
    },
}

/// What the checks need of a control point.
pub(crate) struct Entry<'a> {
    pub(crate) id: &'a str,
    pub(crate) at: &'a [f64],
    pub(crate) at_cov: &'a [f64],
    pub(crate) seen: PixelPoint,
    pub(crate) seen_cov: PixelCov,
}

/// Checks names, numbers and units of a list; `axes` names the coordinates.
pub(crate) fn check_list(
    list: &[Entry<'_>],
    axes: &[&'static str],
    span_m: [f64; 2],
) -> Result<(), ControlFault> {
    for (index, entry) in list.iter().enumerate() {
        let id = || entry.id.to_owned();
        let cov = &entry.seen_cov;
        let parts: [(&'static str, bool); 3] = [
            ("surveyed place", entry.at.iter().chain(entry.at_cov).all(|value| value.is_finite())),
            ("mark", entry.seen.x.is_finite() && entry.seen.y.is_finite()),
            ("mark's covariance", [cov.xx, cov.xy, cov.yy].iter().all(|value| value.is_finite())),
        ];
        if let Some((what, _)) = parts.into_iter().find(|(_, is_finite)| !is_finite) {
            return Err(ControlFault::NotFinite { id: id(), what });
        }
        if !(cov.xx > 0.0 && cov.xx * cov.yy - cov.xy * cov.xy > 0.0) {
            return Err(ControlFault::NoDoubt { id: id() });
        }
        if list[..index].iter().any(|other| other.id == entry.id) {
            return Err(ControlFault::SameName { id: id() });
        }
    }
    (0..axes.len()).try_for_each(|axis| one_unit(list, axis, axes[axis]))?;
    plausible_span(list, axes.len(), span_m)
}

/// No coordinate may stand hundreds of times further from the median than all others do.
fn one_unit(list: &[Entry<'_>], axis: usize, name: &'static str) -> Result<(), ControlFault> {
    let mut sorted: Vec<f64> = list.iter().map(|entry| entry.at[axis]).collect();
    sorted.sort_by(f64::total_cmp);
    let Some(&middle_m) = sorted.get(sorted.len() / 2) else { return Ok(()) };
    let mut away: Vec<(f64, usize)> =
        list.iter().enumerate().map(|(i, entry)| ((entry.at[axis] - middle_m).abs(), i)).collect();
    away.sort_by(|a, b| b.0.total_cmp(&a.0));
    let [(greatest, index), (second, _), ..] = away[..] else { return Ok(()) };
    // Points of one height have no spread of their own there: the whole list's tells what a metre is.
    let others = || (0..list[0].at.len()).map(|k| spread_without(list, k, index)).fold(second, f64::max);
    if list.len() < 4 || greatest <= OTHER_UNIT * others() {
        return Ok(());
    }
    let id = list[index].id.to_owned();
    Err(ControlFault::OtherUnit { id, axis: name, value_m: list[index].at[axis], middle_m, spread_m: second })
}

fn spread_without(list: &[Entry<'_>], axis: usize, left_out: usize) -> f64 {
    let values = || list.iter().enumerate().filter(|(i, _)| *i != left_out).map(|(_, entry)| entry.at[axis]);
    values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min)
}

fn plausible_span(
    list: &[Entry<'_>],
    n_axes: usize,
    [least_m, most_m]: [f64; 2],
) -> Result<(), ControlFault> {
    let span_m = (0..n_axes).map(|axis| spread_without(list, axis, usize::MAX)).fold(0.0, f64::max);
    if list.is_empty() || (least_m..=most_m).contains(&span_m) {
        return Ok(());
    }
    Err(ControlFault::Span { span_m, least_m, most_m })
}
