//! Finds painted targets of every kind in a whole frame: blobs and saddles of a pyramid, a rim sought along rays, the
//! pattern held against the kind's own, and a fine centre. Method and known failures: `docs/methods/spot.md`.

mod bells;
mod centre;
mod corner;
mod ellipse;
mod judge;
mod looks;
mod options;
mod patterns;
mod peaks;
mod picture;
mod pyramid;
mod rays;
mod rim;
mod settle;
mod starts;
#[cfg(test)]
mod tests;
mod texture;
mod waves;

pub use options::SpotOptions;
pub use texture::{TextureSpot, TextureSpotOptions, texture_spots};

use crate::error::TargetsError;
use filmgauge_quantities::{GreyView, PixelCov, PixelPoint, TargetKind};
use judge::{Sought, Verdict};
use peaks::Peak;
use pyramid::{FINEST_SPREAD_PX, Pyramid};
use rayon::prelude::*;

/// Coarsest level that is read, as a share of the greatest radius.
const COARSEST_SHARE: f64 = 0.4;
/// Crosses of a smaller radius are sought by the finest blobs as well, px.
const FINEST_BELOW_PX: f64 = 12.0;
/// Finds of one kind are one where their radii differ by less than this factor.
const ALIKE: f64 = 1.5;
/// What one more octave of radius is worth in score where two finds overlap: a ring before its hole.
const SCORE_PER_OCTAVE: f64 = 0.15;

/// What a centre was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CentreBy {
    /// Half-turn symmetry of the pattern: the finest there is.
    Symmetry,
    /// The rim of a disc or ring alone, where uneven ground spoils the symmetry.
    Rim,
}

impl CentreBy {
    /// The word for it in files and lists.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Symmetry => "symmetry",
            Self::Rim => "rim",
        }
    }
}

/// A target found in a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// What it looks like.
    pub kind: TargetKind,
    /// Its centre; for a slanted circle, the middle of its picture.
    pub centre: PixelPoint,
    /// Covariance of the centre.
    pub cov: PixelCov,
    /// What the centre was taken from.
    pub centre_by: CentreBy,
    /// Radius of the rim along its longest direction, px: in 95 of 100 within 1.5 %, below 10 px within 2.5 %, at worst
    /// 7.5 % off on painted frames (`docs/accuracy.md`).
    pub radius_px: f64,
    /// Shortest radius over longest: the cosine of the slant; above 0, up to 1.
    pub axis_ratio: f64,
    /// Direction of an edge after which, turning from x to y, the bright quarter follows (quadrant, 0 to π), or of a bar
    /// (cross, 0 to π); 0 for discs and rings, which have none.
    pub angle_rad: f64,
    /// Share of the variance that is the kind's pattern, 0 to 1.
    pub score: f64,
}

/// Targets in the frame, best score first. Targets cut by the picture's edge are not found.
///
/// # Errors
/// [`TargetsError::Setting`] when a setting is out of range. A frame without targets is an empty list.
pub fn spot(view: &GreyView, options: &SpotOptions) -> Result<Vec<Spot>, TargetsError> {
    options.check()?;
    if view.width().min(view.height()) < 2 {
        return Ok(Vec::new());
    }
    let least_contrast = options.least_contrast_share * f64::from(view.full_scale());
    let pyramid = Pyramid::new(view, COARSEST_SHARE * options.greatest_radius_px);
    let peaks = all_peaks(&pyramid, options, least_contrast);
    if options.pattern_may_continue {
        return Ok(corner::corners(view, &peaks.concat(), options));
    }
    let sought = Sought::of(options, least_contrast);
    let mut verdicts: Vec<Verdict> = Vec::new();
    // Coarse scales first: what they explain need not be looked at again.
    for peaks in peaks.iter().rev() {
        let open: Vec<&Peak> =
            peaks.iter().filter(|peak| !verdicts.iter().any(|verdict| verdict.explains(peak))).collect();
        let found = open.into_par_iter().flat_map_iter(|peak| judge::verdicts(&pyramid, peak, &sought));
        verdicts.extend(found.collect::<Vec<_>>());
    }
    let apart = greatest_first(verdicts);
    let mut spots: Vec<Spot> =
        apart.par_iter().filter_map(|verdict| centre::located(view, verdict)).collect();
    spots.sort_by(|a, b| b.score.total_cmp(&a.score));
    spots.truncate(options.most);
    Ok(spots)
}

/// Places that may be a target's centre, scale by scale, finest first.
fn all_peaks(pyramid: &Pyramid, options: &SpotOptions, least_contrast: f64) -> Vec<Vec<Peak>> {
    let seeks_crosses = !options.pattern_may_continue && options.kinds.contains(&TargetKind::Cross);
    let mut found = Vec::new();
    if seeks_crosses
        && options.least_radius_px < FINEST_BELOW_PX
        && let Some((plane, spread)) = pyramid.finest()
    {
        let mut finest = peaks::peaks(&plane, spread, FINEST_SPREAD_PX / spread, least_contrast);
        finest.retain(|peak| peak.sort != peaks::Sort::Saddle);
        found.push(finest);
    }
    for level in &pyramid.levels {
        for (plane, spread) in &level.smooth {
            found.push(peaks::peaks(plane, *spread, level.scale_px, least_contrast));
        }
    }
    found
}

/// One verdict for each place: of like ones the best score; then, where two overlap, the larger one before its parts.
fn greatest_first(mut verdicts: Vec<Verdict>) -> Vec<Verdict> {
    let radius = |verdict: &Verdict| verdict.ellipse.axes().0;
    let apart = |a: &Verdict, b: &Verdict| a.ellipse.centre.distance(b.ellipse.centre);
    let score = |verdict: &Verdict| verdict.likeness.score;
    verdicts.sort_by(|a, b| score(b).total_cmp(&score(a)));
    let alike = |a: &Verdict, b: &Verdict| {
        let ratio = radius(a) / radius(b);
        a.kind == b.kind && (1.0 / ALIKE..ALIKE).contains(&ratio) && apart(a, b) < 0.3 * radius(a)
    };
    let verdicts = without(verdicts, alike);
    let worth = |verdict: &Verdict| score(verdict) + SCORE_PER_OCTAVE * radius(verdict).log2();
    let mut verdicts = verdicts;
    verdicts.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    without(verdicts, |a, b| apart(a, b) < 0.7 * radius(a).max(radius(b)))
}

/// Those that are not like an earlier one.
fn without(verdicts: Vec<Verdict>, is_like: impl Fn(&Verdict, &Verdict) -> bool) -> Vec<Verdict> {
    let mut kept: Vec<Verdict> = Vec::new();
    for verdict in verdicts {
        if !kept.iter().any(|other| is_like(other, &verdict)) {
            kept.push(verdict);
        }
    }
    kept
}
