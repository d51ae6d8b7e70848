//! Patches of natural texture that can be followed: where grey levels change in every direction, well apart.
//!
//! Strength is the smaller eigenvalue of the structure tensor (Shi & Tomasi 1994, Proc. IEEE Conference on Computer
//! Vision and Pattern Recognition, 593-600), taken as the root mean square slope along the weakest direction.

use super::pyramid::{self, Plane};
use crate::error::{TargetsError, require, require_all};
use filmgauge_quantities::{GreyView, PixelPoint};
use rayon::prelude::*;

/// Settings of [`texture_spots`].
#[derive(Debug, Clone, PartialEq)]
pub struct TextureSpotOptions {
    /// Half side of the square patch, px; 4 to 100.
    pub radius_px: f64,
    /// Least distance between two patches' middles, px; 1 or more.
    pub apart_px: f64,
    /// Least slope along the weakest direction, root mean square over the patch, as a share of full scale per pixel;
    /// above 0, up to 1.
    pub least_slope_share: f64,
    /// Most patches to return; 1 or more.
    pub most: usize,
}

impl Default for TextureSpotOptions {
    fn default() -> Self {
        Self { radius_px: 12.0, apart_px: 40.0, least_slope_share: 0.008, most: 20 }
    }
}

impl TextureSpotOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("radius_px", self.radius_px, 4.0..=100.0, "it must be 4 to 100 px"),
            ("apart_px", self.apart_px, 1.0..=1e5, "it must be 1 px or more"),
            (
                "least_slope_share",
                self.least_slope_share,
                f64::MIN_POSITIVE..=1.0,
                "it must be above 0, up to 1",
            ),
        ])?;
        require(self.most > 0, "most", 0.0, "it must be 1 or more")
    }
}

/// A patch worth following.
#[derive(Debug, Clone, PartialEq)]
pub struct TextureSpot {
    /// Middle of the patch; a whole pixel, since texture has no centre of its own.
    pub place: PixelPoint,
    /// Half side of the patch, px.
    pub radius_px: f64,
    /// Strength against the strongest patch of the frame, above 0 up to 1.
    pub score: f64,
}

/// The strongest patches, strongest first, none nearer than asked to a stronger one.
///
/// # Errors
/// [`TargetsError::Setting`] when a setting is out of range. A frame without texture is an empty list.
pub fn texture_spots(
    view: &GreyView,
    options: &TextureSpotOptions,
) -> Result<Vec<TextureSpot>, TargetsError> {
    options.check()?;
    let half = options.radius_px.round() as usize;
    if view.width() <= 2 * half + 2 || view.height() <= 2 * half + 2 {
        return Ok(Vec::new());
    }
    let plane = pyramid::smoothed_frame(view, 1);
    let least = (options.least_slope_share * f64::from(view.full_scale())).powi(2);
    let mut places = strengths(&plane, half);
    places.retain(|&(strength, ..)| strength >= least);
    places.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.2, a.1).cmp(&(b.2, b.1))));
    let strongest = places.first().map_or(1.0, |first| first.0);
    let mut kept: Vec<TextureSpot> = Vec::new();
    for (strength, x, y) in places {
        let place = PixelPoint::new(x as f64, y as f64);
        let is_apart = kept.iter().all(|other| other.place.distance(place) >= options.apart_px);
        if is_apart && kept.len() < options.most {
            let score = (strength / strongest).sqrt();
            kept.push(TextureSpot { place, radius_px: options.radius_px, score });
        }
    }
    Ok(kept)
}

/// Smaller eigenvalue of the mean structure tensor of the square about every third pixel.
fn strengths(plane: &Plane, half: usize) -> Vec<(f64, usize, usize)> {
    let (width, height) = (plane.width, plane.height);
    let rows = (half + 1..height - half - 1).into_par_iter().filter(|y| y % 3 == 0);
    let found: Vec<Vec<(f64, usize, usize)>> = rows
        .map(|y| {
            let columns: Vec<[f64; 3]> = (1..width - 1).map(|x| column(plane, x, y, half)).collect();
            let mut sums = vec![[0.0; 3]];
            for products in &columns {
                let last = sums[sums.len() - 1];
                sums.push([0, 1, 2].map(|k| last[k] + products[k]));
            }
            let n = ((2 * half + 1) * (2 * half + 1)) as f64;
            let middles = (half + 1..width - half - 1).filter(|x| x % 3 == 0);
            middles
                .map(|x| {
                    let [xx, xy, yy] = [0, 1, 2].map(|k| (sums[x + half][k] - sums[x - half - 1][k]) / n);
                    (f64::midpoint(xx, yy) - ((xx - yy) / 2.0).hypot(xy), x, y)
                })
                .collect()
        })
        .collect();
    found.into_iter().flatten().collect()
}

/// Products of slopes, summed over a column of the square.
fn column(plane: &Plane, x: usize, y: usize, half: usize) -> [f64; 3] {
    let mut sums = [0.0_f32; 3];
    for row in y - half..=y + half {
        let at = row * plane.width + x;
        let dx = (plane.grey[at + 1] - plane.grey[at - 1]) / 2.0;
        let dy = (plane.grey[at + plane.width] - plane.grey[at - plane.width]) / 2.0;
        sums[0] += dx * dx;
        sums[1] += dx * dy;
        sums[2] += dy * dy;
    }
    sums.map(f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::painted::{Canvas, Painted};

    #[test]
    fn patches_lie_on_texture_and_not_on_an_edge() {
        let canvas = Canvas::new(200, 160, |x, _| if x < 40.0 { 60.0 } else { 160.0 });
        let image = canvas.paint(&Painted::new(130.0, 80.0, 15.0)).eight(1.0, 4);
        let found = texture_spots(&image.view(), &TextureSpotOptions::default()).unwrap();
        assert!(!found.is_empty());
        let middle = PixelPoint::new(130.0, 80.0);
        assert!(found.iter().all(|spot| spot.place.distance(middle) < 32.0), "{found:?}");
    }

    #[test]
    fn settings_out_of_range_are_named_and_plain_frames_hold_nothing() {
        let image = Canvas::new(60, 60, |_, _| 100.0).eight(1.0, 1);
        let wrong = TextureSpotOptions { apart_px: 0.0, ..TextureSpotOptions::default() };
        assert!(texture_spots(&image.view(), &wrong).unwrap_err().to_string().contains("apart_px"));
        assert!(texture_spots(&image.view(), &TextureSpotOptions::default()).unwrap().is_empty());
    }
}
