//! How far one target lies from its layout place, as a pose from certain others says. The offset changes slowly, as lens and
//! perspective do, so neighbouring frames say what it is at one moment.

use super::layout::{Layout, measured};
use super::pose::sum;
use crate::follow::record::Record;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// Offset of a target in the layout's axes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Offset {
    /// Frame number.
    pub(super) frame: f64,
    pub(super) x: f64,
    pub(super) y: f64,
    /// Of mark and pose.
    pub(super) cov: PixelCov,
}

/// Offset of member `n` in a frame against the pose of the members in `mask`; `None` unless all are measured there.
pub(super) fn offset(layout: &Layout, record: &Record, n: usize, index: usize, mask: u64) -> Option<Offset> {
    let (k, place) = layout.members[n];
    let (centre, cov) = measured(record, k, index)?;
    let pose = layout.pose(record, index, mask)?;
    let (expected, pose_cov) = pose.map(place);
    let (x, y) = pose.unturn(centre.x - expected.x, centre.y - expected.y);
    let cov = pose.unturn_cov(&sum(&cov, &pose_cov));
    Some(Offset { frame: f64::from(record.frames[index].0), x, y, cov })
}

/// An offset read from its neighbours, with its variances along both layout axes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Local {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) var_x: f64,
    pub(super) var_y: f64,
}

/// Greatest number of independent readings that neighbouring frames are worth: coding and light err alike in them.
const MOST_INDEPENDENT: f64 = 8.0;

impl Local {
    /// The offset at `frame` from its neighbours before and after: a parabola through both sides, a straight line from one.
    /// Half of what the next simpler curve would change counts as doubt of the model.
    pub(super) fn between(before: &[Offset], after: &[Offset], frame: f64) -> Option<Self> {
        let refs: Vec<&Offset> = before.iter().chain(after).collect();
        let order = match (before.len(), after.len()) {
            (b, a) if b >= 4 && a >= 4 => 2,
            (b, a) if (b >= 2 && a >= 2) || b + a >= 6 => 1,
            (b, a) if b + a >= 3 => 0,
            _ => return None,
        };
        let read = |value: &dyn Fn(&Offset) -> (f64, f64)| {
            let rows: Vec<(f64, f64, f64)> =
                refs.iter().map(|offset| (offset.frame, value(offset).0, value(offset).1)).collect();
            let (best, var) = curve(&rows, order, frame)?;
            let simpler = if order == 0 { best } else { curve(&rows, order - 1, frame)?.0 };
            let scatter = rows.iter().map(|row| row.2).sum::<f64>() / rows.len() as f64;
            let of_model = (0.5 * (best - simpler)).powi(2);
            Some((best, var.max(scatter / MOST_INDEPENDENT) + of_model))
        };
        let (x, var_x) = read(&|offset| (offset.x, offset.cov.xx))?;
        let (y, var_y) = read(&|offset| (offset.y, offset.cov.yy))?;
        Some(Self { x, y, var_x, var_y })
    }

    /// The middle of the neighbours, which a few wrong ones do not move.
    pub(super) fn median(refs: &[Offset]) -> Option<Self> {
        if refs.len() < 5 {
            return None;
        }
        let n = refs.len() as f64;
        let scatter = |of: &dyn Fn(&Offset) -> f64| refs.iter().map(of).sum::<f64>() / n;
        // Variance of a median of n normal values: π/2 times that of their mean.
        let share = std::f64::consts::FRAC_PI_2 / n.min(MOST_INDEPENDENT);
        Some(Self {
            x: middle(refs.iter().map(|offset| offset.x).collect())?,
            y: middle(refs.iter().map(|offset| offset.y).collect())?,
            var_x: share * scatter(&|offset| offset.cov.xx),
            var_y: share * scatter(&|offset| offset.cov.yy),
        })
    }

    pub(super) fn cov(&self) -> PixelCov {
        PixelCov { xx: self.var_x, xy: 0.0, yy: self.var_y }
    }

    pub(super) fn place(&self, layout: PixelPoint) -> PixelPoint {
        layout.moved(self.x, self.y)
    }
}

fn middle(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Value at `at` of the weighted least-squares polynomial of an order (0 to 2) through (time, value, variance), and its
/// variance, widened where the values scatter more than theirs say.
fn curve(rows: &[(f64, f64, f64)], order: usize, at: f64) -> Option<(f64, f64)> {
    let reach = rows.iter().map(|row| (row.0 - at).abs()).fold(1.0, f64::max);
    let powers = |time: f64| {
        let t = (time - at) / reach;
        nalgebra::DVector::from_iterator(
            order + 1,
            (0..=order).map(|k| t.powi(i32::try_from(k).unwrap_or(0))),
        )
    };
    let mut normal = nalgebra::DMatrix::zeros(order + 1, order + 1);
    let mut right = nalgebra::DVector::zeros(order + 1);
    for (time, value, var) in rows {
        let p = powers(*time);
        normal += &p * p.transpose() / *var;
        right += p * (*value / *var);
    }
    let inverse = normal.cholesky()?.inverse();
    let terms = &inverse * right;
    let misfit: f64 =
        rows.iter().map(|(time, value, var)| (value - powers(*time).dot(&terms)).powi(2) / var).sum();
    let dof = rows.len().saturating_sub(order + 1).max(1) as f64;
    Some((terms[0], inverse[(0, 0)] * (misfit / dof).max(1.0)))
}
