//! The pictures of a light film.

use super::painter::{Canvas, Disc};
use super::scenario::{Draw, Kind, RADIUS_PX, Scenario};
use filmgauge_quantities::{GreyImage, LayoutError, PixelPoint};

/// Noise of one pixel, grey levels.
const NOISE_GREY: f64 = 2.5;

/// One frame, 8 bits.
pub(super) fn frame(scenario: &Scenario, frame: u32) -> Result<GreyImage, LayoutError> {
    let (width, height) = scenario.size;
    let mut canvas = Canvas::uneven(width, height, scenario.turn);
    for k in 0..scenario.targets.len() {
        let (dark, bright) = (45.0, 195.0);
        let angle_rad = scenario.angle_rad(k, frame);
        canvas.paint(&Disc {
            centre: scenario.place(k, frame),
            radius_px: RADIUS_PX,
            angle_rad,
            dark,
            bright,
        });
    }
    for cover in &scenario.covers {
        let density = scenario.density(cover, frame);
        if density > 0.0 {
            let middle = scenario.place(cover.over, frame).moved(cover.offset.0, cover.offset.1);
            canvas.change(middle, cover.reach_px + 6.0 * cover.soft_px + 2.0, |dx, dy, level| {
                let depth = (dx.hypot(dy) - cover.reach_px) / cover.soft_px;
                let share = density / (1.0 + depth.exp());
                level * (1.0 - share) + cover.level * share
            });
        }
    }
    if let Some(spot) = scenario.glare(frame) {
        canvas.change(spot, 60.0, |dx, dy, level| level + 400.0 * (-(dx * dx + dy * dy) / 260.0).exp());
    }
    if scenario.kind == Kind::Flash && (scenario.flash_at..scenario.flash_at + 8).contains(&frame) {
        let added = 380.0 / f64::from(frame - scenario.flash_at + 1);
        let middle = PixelPoint::new(width as f64 / 2.0, height as f64 / 2.0);
        canvas.change(middle, width as f64, |_, _, level| level + added);
    }
    grainy(
        &canvas,
        scenario.seed.wrapping_mul(7919) ^ (u64::from(frame) << 32) ^ (scenario.kind as u64) << 56,
    )
}

/// Rounded to 8 bits with noise: the sum of four even draws, near enough to normal for a pixel.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 0 to 255")]
pub(crate) fn grainy(canvas: &Canvas, seed: u64) -> Result<GreyImage, LayoutError> {
    let mut draw = Draw(seed);
    // Each draw has 16 bits; their sum has mean 2 and variance 1/3 in units of 65536.
    let unit = NOISE_GREY * 3.0_f64.sqrt() / 65536.0;
    let samples = canvas.levels.iter().map(|level| {
        let bits = draw.bits();
        let sum: u64 = (0..4).map(|part| bits >> (16 * part) & 0xffff).sum();
        (f64::from(*level) + unit * (sum as f64 - 131_070.0)).round().clamp(0.0, 255.0) as u8
    });
    GreyImage::from_u8(canvas.width, canvas.height, samples.collect())
}
