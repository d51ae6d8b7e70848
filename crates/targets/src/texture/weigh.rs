//! What a settled search is worth: noise from the residual, covariance, and the tests that a match must pass.

use super::columns::{Columns, Sums};
use super::failure::TextureFailure;
use super::fit::{Round, Search, Settled, TextureMatch};
use super::options::MatchOptions;
use super::place::PatchShape;
use crate::locate::greatest_u;
use filmgauge_quantities::PixelCov;
use nalgebra::Matrix6;

/// The match, or why it must not be believed.
pub(super) fn weigh(
    search: &Search,
    round: &Round,
    settled: &Settled,
    options: &MatchOptions,
) -> Result<TextureMatch, TextureFailure> {
    let (columns, texture) = (&search.columns, search.texture);
    // The last step's share of the residual is known without another look.
    let explained = round.sums.rhs.dot(&(columns.inverse * round.sums.rhs));
    let zncc = round.sums.along_level / (round.sums.centred - explained).max(1e-9).sqrt();
    if zncc < options.least_zncc {
        return Err(TextureFailure::Unlike { zncc, least: options.least_zncc });
    }
    let dof = columns.dof();
    let seen = texture.noise.mean_value(&texture.points, &search.place)
        + round.gain * round.gain * texture.pixel_share;
    let floor = texture.options.noise_floor_grey;
    let s2 =
        noise_variance(columns, &round.sums, explained, (seen, round.gain.powi(2) * texture.pixel_share))
            .max(floor * floor);
    let uncertain = |u_px| TextureFailure::Uncertain { u_px, greatest_px: options.greatest_u_px };
    let normal = texture.true_normal(columns, s2);
    let inverse = normal.cholesky().ok_or(uncertain(f64::INFINITY))?.inverse();
    // Few degrees of freedom: Student's t is wider than normal.
    let s2_wide = s2 * dof / (dof - 2.0);
    let own = inverse * columns.normal * inverse * (s2_wide / (round.gain * round.gain));
    let of_template = inverse * (s2_wide * texture.anchor_share());
    let template_cov = in_picture(&search.place.shape, &of_template);
    let own = in_picture(&search.place.shape, &own);
    let cov =
        PixelCov { xx: own.xx + template_cov.xx, xy: own.xy + template_cov.xy, yy: own.yy + template_cov.yy };
    let u_px = greatest_u(&cov);
    if !u_px.is_finite() || u_px > options.greatest_u_px {
        return Err(uncertain(u_px));
    }
    Ok(TextureMatch {
        centre: search.place.centre,
        shape: search.place.shape,
        cov,
        template_cov,
        zncc,
        iterations: settled.iterations,
        noise: s2.sqrt(),
        gain: round.gain,
        masked_share: search.masked_share(),
        left_px: settled.left_px,
    })
}

/// Variance of one pixel's noise. What change of blur explains is taken off only as far as it exceeds what it explains of
/// noise alone. `seen` and `of_template`: variance of the residual, and the template's part, for a pixel's of 1.
fn noise_variance(columns: &Columns, sums: &Sums, explained: f64, (seen, of_template): (f64, f64)) -> f64 {
    let whole = (sums.unexplained - explained).max(0.0);
    let mut s2 = whole / columns.dof() / seen;
    for _ in 0..3 {
        let of_noise = columns.blur_of_noise(s2 * seen, s2 * of_template);
        let blur = (sums.by_blur - of_noise).max(0.0);
        s2 = (whole - blur).max(0.0) / columns.dof() / seen;
    }
    s2
}

/// The centre's covariance carried from the patch's own axes into the picture's.
fn in_picture(shape: &PatchShape, cov: &Matrix6<f64>) -> PixelCov {
    let (uu, uv, vv) = (cov[(0, 0)], cov[(0, 1)], cov[(1, 1)]);
    let row = |a: f64, b: f64| (a * uu + b * uv, a * uv + b * vv);
    let (x, y) = (row(shape.xx, shape.xy), row(shape.yx, shape.yy));
    PixelCov {
        xx: x.0 * shape.xx + x.1 * shape.xy,
        xy: x.0 * shape.yx + x.1 * shape.yy,
        yy: y.0 * shape.yx + y.1 * shape.yy,
    }
}
