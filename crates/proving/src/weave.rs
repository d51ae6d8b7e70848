//! Gate weave: the shift and turn of one frame's picture, film holes included.

use crate::random::Stream;
use crate::scene::{CameraSetup, Scene};
use crate::view::size;
use filmgauge_quantities::PixelPoint;

/// Where the picture of one exposure lies in the stored frame: turned about the middle, then shifted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Weave {
    pub dx_px: f64,
    pub dy_px: f64,
    /// From x towards y, rad.
    pub turn_rad: f64,
    middle: PixelPoint,
}

impl Weave {
    /// The draw of one exposure; none for a camera without weave.
    pub(crate) fn drawn(scene: &Scene, camera: &CameraSetup, index: usize, exposure: u32) -> Option<Self> {
        let setup = camera.weave?;
        let mut stream = Stream::new(scene.seed, "weave", index as u64, u64::from(exposure));
        Some(Self {
            dx_px: stream.normal(setup.shift_sd_px),
            dy_px: stream.normal(setup.shift_sd_px),
            turn_rad: stream.normal(setup.turn_sd_deg.to_radians()),
            middle: middle(camera),
        })
    }

    /// Film to stored frame.
    pub(crate) fn stored_from_film(&self, at: PixelPoint) -> PixelPoint {
        let (sin, cos) = self.turn_rad.sin_cos();
        let (x, y) = (at.x - self.middle.x, at.y - self.middle.y);
        self.middle.moved(self.dx_px + x * cos - y * sin, self.dy_px + x * sin + y * cos)
    }

    /// Stored frame to film; the inverse of [`Self::stored_from_film`].
    pub(crate) fn film_from_stored(&self, at: PixelPoint) -> PixelPoint {
        let (sin, cos) = self.turn_rad.sin_cos();
        let (x, y) = (at.x - self.middle.x - self.dx_px, at.y - self.middle.y - self.dy_px);
        self.middle.moved(x * cos + y * sin, y * cos - x * sin)
    }
}

/// The middle of a camera's picture, about which weave turns.
pub(crate) fn middle(camera: &CameraSetup) -> PixelPoint {
    PixelPoint::new(0.5 * (size(camera.width_px) - 1.0), 0.5 * (size(camera.height_px) - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn to_the_stored_frame_and_back_is_the_same_place() {
        let weave = Weave { dx_px: 1.3, dy_px: -0.7, turn_rad: 0.01, middle: PixelPoint::new(50.0, 40.0) };
        let at = PixelPoint::new(3.0, 77.0);
        assert!(weave.film_from_stored(weave.stored_from_film(at)).distance(at) < 1e-12);
        let middle = weave.stored_from_film(PixelPoint::new(50.0, 40.0));
        assert!(middle.distance(PixelPoint::new(51.3, 39.3)) < 1e-12);
    }
}
