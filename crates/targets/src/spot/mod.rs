//! Finds quartered targets in a whole frame: corner response at three scales, greatest values, a check on
//! rings out to the rim, and a fine centre. Method and known failures: `docs/methods/spot.md`.

mod response;

use crate::error::{TargetsError, require};
use crate::locate::{LEAST_RADIUS_PX, LocateOptions, Located, locate};
use crate::rings::Ring;
use filmgauge_quantities::{GreyView, PixelCov, PixelPoint, TargetKind};
use rayon::prelude::*;

/// Least contrast of a target as a share of full scale.
const LEAST_CONTRAST_SHARE: f64 = 0.06;

/// Radius of the first ring that the check looks at, px: inside it, blur rules.
const FIRST_RING_PX: f64 = 3.0;

/// Step from ring to ring, px.
const RING_STEP_PX: f64 = 0.5;

/// Two-cycle heights of a painted disc's rings lie within these multiples of the inner rings' height; a smooth
/// saddle of the background grows with the square of the radius and does not.
const HEIGHT_RANGE: (f64, f64) = (0.75, 1.3);

/// Greatest turn of a ring's pattern against the inner rings', rad.
const GREATEST_TURN_RAD: f64 = 0.15;

/// Settings of [`spot`].
#[derive(Debug, Clone, PartialEq)]
pub struct SpotOptions {
    /// Least radius of a target, px; 6 or more, as the corner response needs room within the disc.
    pub least_radius_px: f64,
    /// Greatest radius of a target, px; above the least, up to 200.
    pub greatest_radius_px: f64,
    /// Least score, 0 to 1: the share of the rings' variance that is a quartered pattern.
    pub least_score: f64,
    /// Most targets to return; 1 or more.
    pub most: usize,
}

impl Default for SpotOptions {
    fn default() -> Self {
        Self { least_radius_px: 6.0, greatest_radius_px: 40.0, least_score: 0.75, most: 100 }
    }
}

impl SpotOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require(
            self.least_radius_px >= 2.0 * LEAST_RADIUS_PX,
            "least_radius_px",
            self.least_radius_px,
            "it must be 6 px or more",
        )?;
        require(
            self.greatest_radius_px > self.least_radius_px && self.greatest_radius_px <= 200.0,
            "greatest_radius_px",
            self.greatest_radius_px,
            "it must be above least_radius_px, up to 200 px",
        )?;
        require(
            (0.0..=1.0).contains(&self.least_score),
            "least_score",
            self.least_score,
            "it must be 0 to 1",
        )?;
        require(self.most > 0, "most", 0.0, "it must be 1 or more")
    }
}

/// A target found in a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// What it looks like; always [`TargetKind::Quadrant`] so far.
    pub kind: TargetKind,
    /// Its centre.
    pub centre: PixelPoint,
    /// Covariance of the centre.
    pub cov: PixelCov,
    /// Radius of the disc, px; good to about half a pixel.
    pub radius_px: f64,
    /// Direction of an edge after which the bright quarter follows, turning from x to y; 0 to π.
    pub angle_rad: f64,
    /// Share of the rings' variance that is a quartered pattern, 0 to 1.
    pub score: f64,
}

/// Quartered targets in the frame, best score first. Targets cut by the picture's edge are not found.
///
/// # Errors
/// [`TargetsError::Setting`] when a setting is out of range. A frame without targets is an empty list.
pub fn spot(view: &GreyView, options: &SpotOptions) -> Result<Vec<Spot>, TargetsError> {
    options.check()?;
    let full_scale = f64::from(view.full_scale());
    let candidates = response::candidates(view, LEAST_CONTRAST_SHARE * full_scale);
    let mut spots: Vec<Spot> =
        candidates.par_iter().filter_map(|candidate| verified(view, candidate, options)).collect();
    spots.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Spot> = Vec::new();
    for spot in spots {
        let is_known = kept.iter().any(|other| other.centre.distance(spot.centre) < other.radius_px / 2.0);
        if !is_known && kept.len() < options.most {
            kept.push(spot);
        }
    }
    Ok(kept)
}

/// The target at a candidate place, if it is one.
fn verified(view: &GreyView, candidate: &response::Candidate, options: &SpotOptions) -> Option<Spot> {
    let rough = LocateOptions {
        search_px: candidate.scale_px + 0.5,
        greatest_residual_share: 0.2,
        ..LocateOptions::default()
    };
    let first = locate(view, candidate.place, options.least_radius_px * candidate.scale_px, &rough).ok()?;
    let disc = Disc::around(view, first.centre, options)?;
    if disc.score < options.least_score || disc.radius_px < options.least_radius_px {
        return None;
    }
    let located: Located = locate(view, first.centre, disc.radius_px, &LocateOptions::default()).ok()?;
    Some(Spot {
        kind: TargetKind::Quadrant,
        centre: located.centre,
        cov: located.cov,
        radius_px: disc.radius_px,
        angle_rad: disc.angle_rad,
        score: disc.score,
    })
}

/// A quartered disc measured on rings.
struct Disc {
    radius_px: f64,
    angle_rad: f64,
    score: f64,
}

impl Disc {
    /// Walks outwards until the pattern ends; `None` when it is not there, fades instead of ending, or never ends.
    fn around(view: &GreyView, centre: PixelPoint, options: &SpotOptions) -> Option<Self> {
        let n_inner = ((options.least_radius_px - 2.0 - FIRST_RING_PX) / RING_STEP_PX).floor().max(1.0);
        let core = mean_ring(view, centre, n_inner)?;
        let height = core.height();
        // The two-cycle wave of a square wave of height C from dark to bright is 2 C / π high.
        if height < 2.0 / std::f64::consts::PI * LEAST_CONTRAST_SHARE * f64::from(view.full_scale()) {
            return None;
        }
        let (mut shares, mut n_rings) = (0.0, 0.0);
        let (mut radius_px, mut last_height) = (FIRST_RING_PX, height);
        while radius_px <= options.greatest_radius_px + 1.0 {
            let ring = Ring::around(view, centre, radius_px)?;
            let along = (ring.cos * core.cos + ring.sin * core.sin) / height;
            let across = (ring.sin * core.cos - ring.cos * core.sin) / height;
            if along < height / 2.0 {
                let fall = (last_height - along).max(1e-9);
                let rim = radius_px - RING_STEP_PX * (height / 2.0 - along) / fall;
                return (n_rings > 0.0 && fall < 2.0 * height).then(|| Self {
                    radius_px: rim.min(options.greatest_radius_px),
                    angle_rad: core.angle_rad(),
                    score: shares / n_rings,
                });
            }
            let is_alike =
                along <= HEIGHT_RANGE.1 * height && (across.atan2(along).abs() < 2.0 * GREATEST_TURN_RAD);
            if !is_alike {
                return None;
            }
            if along >= HEIGHT_RANGE.0 * height {
                shares += ring.share;
                n_rings += 1.0;
            }
            last_height = along;
            radius_px += RING_STEP_PX;
        }
        None
    }
}

/// Mean pattern of the inner rings.
fn mean_ring(view: &GreyView, centre: PixelPoint, n_rings: f64) -> Option<Ring> {
    let mut mean = Ring { cos: 0.0, sin: 0.0, share: 0.0 };
    let mut k = 0.0;
    while k < n_rings {
        let ring = Ring::around(view, centre, FIRST_RING_PX + k * RING_STEP_PX)?;
        mean.cos += ring.cos / n_rings;
        mean.sin += ring.sin / n_rings;
        mean.share += ring.share / n_rings;
        k += 1.0;
    }
    Some(mean)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::painted::{Canvas, Painted, uneven};
    use filmgauge_quantities::GreyImage;

    fn crowd(seed: u64) -> (Vec<Painted>, GreyImage) {
        let mut canvas = Canvas::new(1280, 448, uneven);
        let mut targets = Vec::new();
        for k in 0..24_u32 {
            let (column, row) = (k % 8, k / 8);
            let mut target = Painted::new(
                80.0 + 155.0 * f64::from(column) + 0.37 * f64::from(k),
                75.0 + 145.0 * f64::from(row) + 0.71 * f64::from(k),
                7.0 + f64::from(k),
            );
            target.angle_rad = 0.13 * f64::from(k);
            target.bright = 195.0 - 3.0 * f64::from(k);
            canvas = canvas.paint(&target);
            targets.push(target);
        }
        (targets, canvas.eight(2.5, seed))
    }

    #[test]
    fn every_target_of_radius_7_to_30_is_found_and_little_else() {
        for seed in 1..4 {
            let (targets, image) = crowd(seed);
            let spots = spot(&image.view(), &SpotOptions::default()).unwrap();
            for target in &targets {
                let found = spots.iter().find(|s| s.centre.distance(target.centre) < 0.2);
                let found = found.unwrap_or_else(|| panic!("radius {} missed", target.radius_px));
                assert!(
                    (found.radius_px - target.radius_px).abs() < 1.0,
                    "{} {}",
                    found.radius_px,
                    target.radius_px
                );
                let turn = (found.angle_rad - target.angle_rad).rem_euclid(std::f64::consts::PI);
                assert!(turn.min(std::f64::consts::PI - turn) < 0.05);
            }
            assert!(spots.len() <= targets.len() + 1, "{} found", spots.len());
            assert!(spots.windows(2).all(|two| two[0].score >= two[1].score));
        }
    }

    #[test]
    fn frames_without_targets_give_none() {
        let bare = Canvas::new(640, 400, uneven).eight(2.5, 9);
        assert!(spot(&bare.view(), &SpotOptions::default()).unwrap().is_empty());
        for level in [0, 128, 255] {
            let flat = GreyImage::from_u8(64, 48, vec![level; 64 * 48]).unwrap();
            assert!(spot(&flat.view(), &SpotOptions::default()).unwrap().is_empty());
        }
        let tiny = GreyImage::from_u8(3, 2, vec![7; 6]).unwrap();
        assert!(spot(&tiny.view(), &SpotOptions::default()).unwrap().is_empty());
    }

    #[test]
    fn settings_out_of_range_are_named() {
        let small = SpotOptions { least_radius_px: 2.0, ..SpotOptions::default() };
        let tiny = GreyImage::from_u8(3, 2, vec![7; 6]).unwrap();
        assert!(spot(&tiny.view(), &small).unwrap_err().to_string().contains("least_radius_px"));
    }
}
