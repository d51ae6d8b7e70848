//! How the picture is to be turned for viewing: the film's display matrix or a still's orientation, and doing so.

use crate::{FaultKind, FootageFault};
use ffmpeg_next::codec::packet;
use ffmpeg_next::{Stream, frame};
use filmgauge_quantities::{GreyImage, GreyPixels, GreyView};

/// A copy of a picture as a player shows it: mirrored left to right if `mirrored`, then turned clockwise by `turn_deg`.
///
/// For viewing only: measuring is done in stored pixels. `None` unless the angle is a multiple of 90 degrees (to a
/// hundredth), since any other angle would need new grey levels.
#[must_use]
pub fn turned_for_view(picture: &GreyView<'_>, turn_deg: f64, mirrored: bool) -> Option<GreyImage> {
    let quarters = quarters(turn_deg)?;
    let stored = (picture.width(), picture.height());
    let (width, height) = if quarters % 2 == 0 { stored } else { (stored.1, stored.0) };
    let stride = picture.stride();
    let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| {
        let (x, y) = match quarters {
            0 => (x, y),
            1 => (y, stored.1 - 1 - x),
            2 => (stored.0 - 1 - x, stored.1 - 1 - y),
            _ => (stored.0 - 1 - y, x),
        };
        y * stride + if mirrored { stored.0 - 1 - x } else { x }
    });
    match picture.pixels() {
        GreyPixels::Eight(samples) if picture.bits() == 8 => {
            GreyImage::from_u8(width, height, places.map(|at| samples[at]).collect())
        }
        GreyPixels::Eight(samples) => {
            let wide = places.map(|at| u16::from(samples[at])).collect();
            GreyImage::from_u16(width, height, picture.bits(), wide)
        }
        GreyPixels::Sixteen(samples) => {
            GreyImage::from_u16(width, height, picture.bits(), places.map(|at| samples[at]).collect())
        }
    }
    .ok()
}

/// What footage asks of a viewer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    /// Clockwise, 0 to 360 degrees, after mirroring.
    pub(crate) turn_deg: f64,
    /// Left to right, before turning.
    pub(crate) mirrored: bool,
}

impl Turn {
    /// The turn that a stream's header states.
    pub(crate) fn of_stream(stream: &Stream<'_>) -> Option<Self> {
        let matrix = stream.side_data().find(|data| data.kind() == packet::side_data::Type::DisplayMatrix)?;
        Self::of_matrix(matrix.data())
    }

    /// The turn that travels with a decoded picture.
    pub(crate) fn of_picture(picture: &frame::Video) -> Option<Self> {
        Self::of_matrix(picture.side_data(frame::side_data::Type::DisplayMatrix)?.data())
    }

    /// From FFmpeg's display matrix: nine whole numbers, of which the first two of each row (x, y) scale and turn
    /// a row vector (x, y, 1), in units of 1/65536 (documented in libavutil/display.h).
    pub(crate) fn of_matrix(bytes: &[u8]) -> Option<Self> {
        let mut parts = bytes.chunks_exact(4).map(|four| <[u8; 4]>::try_from(four).map(i32::from_ne_bytes));
        let mut matrix = [0.0_f64; 9];
        for part in &mut matrix {
            *part = f64::from(parts.next()?.ok()?);
        }
        let [a, b, _, c, d, ..] = matrix;
        if a * d - b * c == 0.0 {
            return None;
        }
        // Mirroring changes the sign of (a, b) alone, so the lower row tells the angle in both cases.
        let turn_deg = (-c).atan2(d).to_degrees().rem_euclid(360.0);
        Some(Self { turn_deg, mirrored: a * d - b * c < 0.0 })
    }

    /// From the orientation of TIFF 6.0 (tag 274) and Exif: 1 to 8.
    pub(crate) fn of_orientation(orientation: u8) -> Option<Self> {
        let (turn_deg, mirrored) = match orientation {
            1 => (0.0, false),
            2 => (0.0, true),
            3 => (180.0, false),
            4 => (180.0, true),
            5 => (270.0, true),
            6 => (90.0, false),
            7 => (90.0, true),
            8 => (270.0, false),
            _ => return None,
        };
        Some(Self { turn_deg, mirrored })
    }

    /// The fault to note, unless the picture is shown as it is stored.
    pub(crate) fn fault(self) -> Option<FootageFault> {
        let upright = !self.mirrored && (self.turn_deg < 0.01 || self.turn_deg > 359.99);
        (!upright).then(|| {
            let mirrored = if self.mirrored { "mirrored left to right and " } else { "" };
            let text = format!(
                "the picture is to be {mirrored}turned by {:.0} degrees clockwise for viewing; it is measured as stored",
                self.turn_deg
            );
            FootageFault::of_footage(FaultKind::Turned, text)
        })
    }
}

fn quarters(turn_deg: f64) -> Option<u8> {
    let turn = turn_deg.rem_euclid(360.0);
    [(0, 0.0), (1, 90.0), (2, 180.0), (3, 270.0), (0, 360.0)]
        .into_iter()
        .find_map(|(quarters, deg)| ((turn - deg).abs() < 0.01).then_some(quarters))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matrix(a: i32, b: i32, c: i32, d: i32) -> Option<Turn> {
        let parts = [a, b, 0, c, d, 0, 0, 0, 1 << 30];
        Turn::of_matrix(&parts.iter().flat_map(|part| part.to_ne_bytes()).collect::<Vec<u8>>())
    }

    #[test]
    fn the_matrix_tells_the_turn() {
        const ONE: i32 = 1 << 16;
        let turn = |turn_deg, mirrored| Some(Turn { turn_deg, mirrored });
        assert_eq!(matrix(ONE, 0, 0, ONE), turn(0.0, false));
        // The right edge (1, 0) goes to (0, 1), down: a quarter clockwise.
        assert_eq!(matrix(0, ONE, -ONE, 0), turn(90.0, false));
        assert_eq!(matrix(-ONE, 0, 0, -ONE), turn(180.0, false));
        assert_eq!(matrix(0, -ONE, ONE, 0), turn(270.0, false));
        assert_eq!(matrix(-ONE, 0, 0, ONE), turn(0.0, true));
        assert_eq!(matrix(0, 0, 0, 0), None);
        assert_eq!(Turn::of_matrix(&[0; 8]), None);
    }

    #[test]
    fn turning_moves_corners_and_keeps_levels() {
        let picture = GreyImage::from_u8(3, 2, vec![1, 2, 3, 4, 5, 6]).unwrap();
        let levels = |deg, mirrored| {
            let turned = turned_for_view(&picture.view(), deg, mirrored).unwrap();
            let view = turned.view();
            let rows = (0..view.height()).map(|y| (0..view.width()).map(move |x| (x, y)));
            rows.map(|row| row.map(|(x, y)| view.get(x, y).unwrap() as u8).collect())
                .collect::<Vec<Vec<u8>>>()
        };
        assert_eq!(levels(0.0, false), [[1, 2, 3], [4, 5, 6]]);
        assert_eq!(levels(90.0, false), [[4, 1], [5, 2], [6, 3]]);
        assert_eq!(levels(180.0, false), [[6, 5, 4], [3, 2, 1]]);
        assert_eq!(levels(-90.0, false), [[3, 6], [2, 5], [1, 4]]);
        assert_eq!(levels(0.0, true), [[3, 2, 1], [6, 5, 4]]);
        assert_eq!(levels(90.0, true), [[6, 3], [5, 2], [4, 1]]);
        assert!(turned_for_view(&picture.view(), 45.0, false).is_none());
    }
}
