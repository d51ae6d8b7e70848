//! Gauss-Newton for the eight terms of a normalised homography, weighted by marks and survey together.

use super::{Homography, HomographyOptions, image_of, plane_of};
use crate::layout::map::{Form, Normal, ViewMap};
use crate::levenberg::{Equations, settled};
use crate::suspect::{Change, Misfit};
use crate::{ControlResidual, PlaneControl};
use filmgauge_quantities::{PixelPoint, PlanePoint};
use nalgebra::{Matrix2, Matrix3, SMatrix, SVector, Vector2};

type Terms = SVector<f64, 8>;
type Slopes = SMatrix<f64, 2, 8>;

/// One point in normalised coordinates.
struct Pair {
    index: usize,
    from: [f64; 2],
    from_cov: Matrix2<f64>,
    to: Vector2<f64>,
    to_cov: Matrix2<f64>,
}

/// A fit of a list of points.
pub(super) struct Solved {
    terms: Terms,
    cov: SMatrix<f64, 8, 8>,
    from: Normal,
    to: Normal,
    pub(super) chi2: f64,
    /// For each point used: its index, residual in normalised units, share of χ².
    residuals: Vec<(usize, Vector2<f64>, f64)>,
}

/// Fits the changed list; `None` where no camera sees it so, or the steps do not settle.
pub(super) fn solved(
    controls: &[PlaneControl],
    change: &Change,
    options: &HomographyOptions,
) -> Option<Solved> {
    let used: Vec<usize> = (0..controls.len()).filter(|&i| Some(i) != change.left_out).collect();
    let mark = |i: usize| &controls[change.marks[i]];
    let places: Vec<(PlanePoint, PixelPoint)> =
        used.iter().map(|&i| (controls[i].at, mark(i).seen)).collect();
    let start = ViewMap::fitted(Form::Homography, &places)?;
    let from = Normal::of(places.iter().map(|(at, _)| [at.x_m, at.z_m]))?;
    let to = Normal::of(places.iter().map(|(_, seen)| [seen.x, seen.y]))?;
    let pairs: Vec<Pair> = used
        .iter()
        .map(|&i| {
            let (at, survey, cov) = (controls[i].at, controls[i].at_cov, mark(i).seen_cov);
            let model = options.model_u_px.powi(2);
            let to_cov = Matrix2::new(cov.xx + model, cov.xy, cov.xy, cov.yy + model);
            Pair {
                index: i,
                from: from.apply([at.x_m, at.z_m]),
                from_cov: Matrix2::new(survey.xx, survey.xz, survey.xz, survey.zz) / from.spread.powi(2),
                to: Vector2::from(to.apply([mark(i).seen.x, mark(i).seen.y])),
                to_cov: to_cov / to.spread.powi(2),
            }
        })
        .collect();
    let flat = to.matrix() * start.matrix() * from.back();
    let flat = flat / flat.m33;
    let start = Terms::from_column_slice(&[
        flat.m11, flat.m12, flat.m13, flat.m21, flat.m22, flat.m23, flat.m31, flat.m32,
    ]);
    let found = settled(start, |terms, at| equations(&pairs, terms, at), |terms, step| terms + step)?;
    let (terms, cov) = (found.at, found.cov);
    let residuals: Vec<(usize, Vector2<f64>, f64)> = pairs
        .iter()
        .map(|pair| {
            let (residual, weight, _) = weighed(pair, &terms)?;
            Some((pair.index, residual, residual.dot(&(weight * residual))))
        })
        .collect::<Option<_>>()?;
    Some(Solved { terms, cov, from, to, chi2: found.chi2, residuals })
}

fn equations(pairs: &[Pair], terms: &Terms, weights_at: &Terms) -> Option<Equations<8>> {
    let mut sum = Equations::none();
    for pair in pairs {
        let (residual, _, slopes) = weighed(pair, terms)?;
        let (_, weight, _) = weighed(pair, weights_at)?;
        sum.add(&residual, &weight, &slopes);
    }
    Some(sum)
}

/// Residual, weight and slopes of one point; `None` behind the camera.
fn weighed(pair: &Pair, terms: &Terms) -> Option<(Vector2<f64>, Matrix2<f64>, Slopes)> {
    let [x, z] = pair.from;
    let w = terms[6] * x + terms[7] * z + 1.0;
    if w <= 0.0 || w.is_nan() {
        return None;
    }
    let seen = model(terms, pair.from);
    let by_place = Matrix2::new(
        (terms[0] - seen.x * terms[6]) / w,
        (terms[1] - seen.x * terms[7]) / w,
        (terms[3] - seen.y * terms[6]) / w,
        (terms[4] - seen.y * terms[7]) / w,
    );
    let cov = pair.to_cov + by_place * pair.from_cov * by_place.transpose();
    Some((pair.to - seen, cov.try_inverse()?, slopes_by_terms(terms, pair.from)))
}

fn model(terms: &Terms, [x, z]: [f64; 2]) -> Vector2<f64> {
    let w = terms[6] * x + terms[7] * z + 1.0;
    Vector2::new((terms[0] * x + terms[1] * z + terms[2]) / w, (terms[3] * x + terms[4] * z + terms[5]) / w)
}

/// Partial derivatives of the normalised pixel by the eight terms, at a normalised plane point.
pub(super) fn slopes_by_terms(terms: &Terms, [x, z]: [f64; 2]) -> Slopes {
    let w = terms[6] * x + terms[7] * z + 1.0;
    let seen = model(terms, [x, z]);
    let (u, v) = (seen.x, seen.y);
    Slopes::from_row_slice(&[
        x,
        z,
        1.0,
        0.0,
        0.0,
        0.0,
        -u * x,
        -u * z, //
        0.0,
        0.0,
        0.0,
        x,
        z,
        1.0,
        -v * x,
        -v * z,
    ]) / w
}

/// The map between metres and pixels of normalised terms.
pub(super) fn full_matrix(terms: &Terms, from: &Normal, to: &Normal) -> Matrix3<f64> {
    let flat =
        Matrix3::new(terms[0], terms[1], terms[2], terms[3], terms[4], terms[5], terms[6], terms[7], 1.0);
    to.back() * flat * from.matrix()
}

/// How far a point's mark lies from where the other points put it, px, and its place by them in words.
pub(super) fn away(
    controls: &[PlaneControl],
    index: usize,
    options: &HomographyOptions,
) -> Option<(f64, String)> {
    let change = Change { marks: (0..controls.len()).collect(), left_out: Some(index) };
    let solved = solved(controls, &change, options)?;
    let matrix = full_matrix(&solved.terms, &solved.from, &solved.to);
    let control = &controls[index];
    let away_px = image_of(&matrix, control.at)?.distance(control.seen);
    let words = plane_of(&matrix, control.seen).map(|at| {
        format!(
            "by the others it lies at x {:.3}, z {:.3} m, the list says x {:.3}, z {:.3} m",
            at.x_m, at.z_m, control.at.x_m, control.at.z_m
        )
    });
    Some((away_px, words.unwrap_or_default()))
}

impl Solved {
    pub(super) fn misfit(&self) -> Misfit {
        let n = self.residuals.len();
        let squares: f64 = self.residuals.iter().map(|(_, residual, _)| residual.norm_squared()).sum();
        let rms_px = (squares / (2.0 * n as f64)).sqrt() * self.to.spread;
        Misfit { chi2: self.chi2, dof: 2 * n - 8, rms_px }
    }

    pub(super) fn reported(&self, ids: &[String], cov_factor: f64) -> Homography {
        let matrix = full_matrix(&self.terms, &self.from, &self.to);
        let misfit = self.misfit();
        Homography {
            image_from_plane: [0, 1, 2].map(|row| [0, 1, 2].map(|column| matrix[(row, column)])),
            residuals: self
                .residuals
                .iter()
                .map(|(index, residual, chi2)| ControlResidual {
                    id: ids[*index].clone(),
                    x_px: residual.x * self.to.spread,
                    y_px: residual.y * self.to.spread,
                    chi2: *chi2,
                })
                .collect(),
            rms_px: misfit.rms_px,
            chi2: self.chi2,
            n_spare: misfit.dof,
            cov_factor,
            terms: self.terms,
            cov: self.cov * cov_factor,
            from: self.from,
            to: self.to,
        }
    }
}
