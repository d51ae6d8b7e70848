//! Dust specks and scratches of a scan, and its uneven brightness: drawn for every exposure.

use crate::random::Stream;
use crate::scene::{CameraSetup, Scene};
use crate::view::size;
use filmgauge_quantities::PixelPoint;
use serde::Serialize;

/// One speck or scratch in the stored frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Flaw {
    /// A round speck.
    Speck {
        /// Its middle, px.
        at: PixelPoint,
        /// Its radius, px.
        radius_px: f64,
    },
    /// A straight scratch along the film.
    Scratch {
        /// Its upper end, px.
        from: PixelPoint,
        /// Its lower end, px.
        to: PixelPoint,
        /// Its width, px.
        width_px: f64,
    },
}

impl Flaw {
    /// Share of the pixel at a place that it covers, 0 to 1.
    #[must_use]
    pub fn cover(&self, at: PixelPoint) -> f64 {
        match *self {
            Self::Speck { at: middle, radius_px } => (radius_px + 0.5 - at.distance(middle)).clamp(0.0, 1.0),
            Self::Scratch { from, to, width_px } => {
                let along = (at.y - from.y) / (to.y - from.y);
                if !(0.0..=1.0).contains(&along) {
                    return 0.0;
                }
                let aside = (at.x - from.x - along * (to.x - from.x)).abs();
                (0.5 * width_px + 0.5 - aside).clamp(0.0, width_px.min(1.0))
            }
        }
    }
}

/// The specks and scratches of one exposure.
pub(crate) fn flaws(scene: &Scene, camera: &CameraSetup, index: usize, exposure: u32) -> Vec<Flaw> {
    let Some(scan) = camera.scan else { return Vec::new() };
    let mut stream = Stream::new(scene.seed, "scan", index as u64, u64::from(exposure));
    let (width, height) = (size(camera.width_px), size(camera.height_px));
    let mut flaws = Vec::new();
    for _ in 0..scan.specks {
        let at = PixelPoint::new(stream.uniform() * width - 0.5, stream.uniform() * height - 0.5);
        let [least, greatest] = scan.speck_radius_px;
        flaws.push(Flaw::Speck { at, radius_px: least + (greatest - least) * stream.uniform() });
    }
    for _ in 0..scan.scratches {
        let from = PixelPoint::new(stream.uniform() * width, stream.uniform() * height - 0.5);
        // Film runs past what scratches it: along the columns, a few degrees at most.
        let lean = stream.within(0.05) * scan.scratch_length_px;
        let to = from.moved(lean, scan.scratch_length_px);
        flaws.push(Flaw::Scratch { from, to, width_px: scan.scratch_width_px });
    }
    flaws
}

/// Brightness of one exposure over the usual one; none where all are alike.
pub(crate) fn level(scene: &Scene, camera: &CameraSetup, index: usize, exposure: u32) -> Option<f64> {
    camera.scan.filter(|scan| scan.level_sd > 0.0).map(|scan| {
        let mut stream = Stream::new(scene.seed, "level", index as u64, u64::from(exposure));
        (1.0 + stream.normal(scan.level_sd)).max(0.05)
    })
}
