//! What a place in the picture looks like before any fit: contrast and sharpness, to name the cause of a gap.

use filmgauge_quantities::{GreyView, PixelCov, PixelPoint};

/// Contrast and sharpness of a disc.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    /// Standard deviation of the grey levels.
    pub(super) spread: f64,
    /// Squared slope along the blurriest direction over variance, px⁻²: falls as the picture blurs, whatever the
    /// contrast.
    pub(super) sharpness: f64,
    /// Share of pixels at or above the saturation level.
    pub(super) saturated_share: f64,
}

impl Look {
    /// The disc of `radius_px` around `centre`; `None` unless it lies in the picture with a pixel to spare.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the disc is checked to lie in the picture"
    )]
    pub(super) fn of(view: &GreyView, centre: PixelPoint, radius_px: f64, ceiling: f64) -> Option<Self> {
        let reach = radius_px.ceil() + 2.0;
        let inside = centre.x >= reach
            && centre.y >= reach
            && centre.x + reach < view.width() as f64
            && centre.y + reach < view.height() as f64;
        if !inside {
            return None;
        }
        let level = |x: usize, y: usize| view.get(x, y).map_or(0.0, f64::from);
        let (mut n, mut sum, mut squares, mut n_saturated) = (0.0, 0.0, 0.0, 0.0);
        let mut slopes = PixelCov::default();
        for y in (centre.y - radius_px).ceil() as usize..=(centre.y + radius_px) as usize {
            let dy = y as f64 - centre.y;
            let half = (radius_px * radius_px - dy * dy).max(0.0).sqrt();
            for x in (centre.x - half).ceil() as usize..=(centre.x + half) as usize {
                let here = level(x, y);
                let along_x = (level(x + 1, y) - level(x - 1, y)) / 2.0;
                let along_y = (level(x, y + 1) - level(x, y - 1)) / 2.0;
                n += 1.0;
                sum += here;
                squares += here * here;
                slopes.xx += along_x * along_x;
                slopes.xy += along_x * along_y;
                slopes.yy += along_y * along_y;
                n_saturated += f64::from(u8::from(here >= ceiling));
            }
        }
        let variance = (squares / n - (sum / n).powi(2)).max(0.0);
        let apart = ((slopes.xx - slopes.yy) / 2.0).hypot(slopes.xy);
        let least = ((slopes.xx + slopes.yy) / 2.0 - apart).max(0.0);
        let sharpness = least / n / variance.max(1e-9);
        Some(Self { spread: variance.sqrt(), sharpness, saturated_share: n_saturated / n })
    }
}
