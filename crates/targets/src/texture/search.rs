//! Looks for a patch over whole pixels of a gate by zero-mean normalised correlation: the start for a match where the
//! prediction alone is not good enough, and the way back after a gap.
//!
//! Lewis 1995 (Vision Interface): window sums from running tables, products by FFT where the gate is wide.

use super::correlate::{Raster, by_fft, directly};
use super::failure::TextureFailure;
use super::place::{PatchShape, TexturePlace};
use super::template::Texture;
use filmgauge_quantities::{GreyView, PixelPoint};

/// Gates wider than this are searched by FFT.
const DIRECT_REACH_PX: i64 = 12;

/// Widest gate, px.
const GREATEST_REACH_PX: f64 = 2048.0;

/// A likeness this far from the best, in shorter sides of the patch, counts as a second place.
const SECOND_PLACE_SIDES: f64 = 0.35;

/// Where to look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SearchGate {
    /// Middle of the gate and expected shape of the patch.
    pub near: TexturePlace,
    /// How far the centre may be from the middle along either axis, px; above 0, at most 2048.
    pub reach_px: f64,
}

/// The most alike place of a gate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TextureFound {
    /// Where; good to half a pixel.
    pub place: TexturePlace,
    /// Likeness there, -1 to 1.
    pub zncc: f64,
    /// Greatest likeness a third of the patch away or more; 0 in a gate too small to hold one.
    pub second: f64,
}

/// The place within `gate` where the picture is most like the patch.
///
/// # Errors
/// [`TextureFailure::LeftPicture`] when no place of the gate has the whole patch in the picture,
/// [`TextureFailure::Guess`] when the gate is none.
pub fn search(view: &GreyView, gate: &SearchGate, texture: &Texture) -> Result<TextureFound, TextureFailure> {
    let has_reach = gate.reach_px > 0.0 && gate.reach_px <= GREATEST_REACH_PX;
    if !(gate.near.is_sound() && has_reach) {
        return Err(TextureFailure::Guess);
    }
    let near = gate.near.centre;
    let left = || TextureFailure::LeftPicture { x: near.x, y: near.y };
    let turned;
    let pattern = if gate.near.shape == PatchShape::default() {
        texture.upright.as_ref().ok_or_else(left)?
    } else {
        turned = Pattern::of(texture, &gate.near.shape).ok_or_else(left)?;
        &turned
    };
    let field = Field::cut(view, gate, pattern, texture.base).ok_or_else(left)?;
    let scores = field.likeness(pattern);
    let apart_px = SECOND_PLACE_SIDES * texture.size.width.min(texture.size.height) as f64;
    let (at, zncc, second) = best_of(&scores, apart_px).ok_or_else(left)?;
    let centre = PixelPoint::new(
        field.left as f64 + at.0 as f64 - pattern.corner.0,
        field.top as f64 + at.1 as f64 - pattern.corner.1,
    );
    Ok(TextureFound { place: TexturePlace { centre, shape: gate.near.shape }, zncc, second })
}

/// The patch on whole pixels, in the shape expected.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    /// Levels less their mean; 0 where not in use.
    levels: Raster,
    /// 1 where in use, else 0; `None` when all are.
    used: Option<Raster>,
    n_used: f64,
    length: f64,
    /// Offset of the first pixel from the centre.
    corner: (f64, f64),
}

impl Pattern {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "sides of a patch within limits"
    )]
    pub(super) fn of(texture: &Texture, shape: &PatchShape) -> Option<Self> {
        let half = ((texture.size.width / 2) as f64, (texture.size.height / 2) as f64);
        let reach_x = (shape.xx.abs() * half.0 + shape.xy.abs() * half.1).round();
        let reach_y = (shape.yx.abs() * half.0 + shape.yy.abs() * half.1).round();
        let (width, height) = (2 * reach_x as usize + 1, 2 * reach_y as usize + 1);
        // The patch's own pixels fall between whole ones when the shape is not upright; its centre then lies on one.
        let upright = *shape == PatchShape::default();
        let corner = if upright { texture.corner } else { (-reach_x, -reach_y) };
        let det = shape.determinant();
        let mut levels = Raster::new(width, height);
        let mut used = Raster::new(width, height);
        for row in 0..height {
            for column in 0..width {
                let (dx, dy) = (corner.0 + column as f64, corner.1 + row as f64);
                let u = (shape.yy * dx - shape.xy * dy) / det;
                let v = (shape.xx * dy - shape.yx * dx) / det;
                if let Some(level) = texture.level_at(u, v) {
                    levels.set(column, row, level as f32);
                    used.set(column, row, 1.0);
                }
            }
        }
        let n_used = used.sum();
        let mean = levels.sum() / n_used.max(1.0);
        let mut squares = 0.0;
        for (level, weight) in levels.cells.iter_mut().zip(&used.cells) {
            *level = weight * (*level - mean as f32);
            squares += f64::from(*level) * f64::from(*level);
        }
        let full = n_used as usize == width * height;
        let length = squares.sqrt();
        (n_used > 8.0 && length > 0.0).then_some(Self {
            levels,
            used: (!full).then_some(used),
            n_used,
            length,
            corner,
        })
    }
}

/// The piece of the picture that the gate reaches.
struct Field {
    left: i64,
    top: i64,
    levels: Raster,
    wide: bool,
}

impl Field {
    #[expect(clippy::cast_possible_truncation, reason = "a sound place and a limited gate")]
    fn cut(view: &GreyView, gate: &SearchGate, pattern: &Pattern, base: f64) -> Option<Self> {
        let (width, height) = (pattern.levels.width as i64, pattern.levels.height as i64);
        let reach = gate.reach_px.ceil() as i64;
        let x = (gate.near.centre.x + pattern.corner.0).round() as i64;
        let y = (gate.near.centre.y + pattern.corner.1).round() as i64;
        let (left, top) = ((x - reach).max(0), (y - reach).max(0));
        let right = (x + reach + width).min(view.width() as i64);
        let bottom = (y + reach + height).min(view.height() as i64);
        if right - left < width || bottom - top < height {
            return None;
        }
        let (wide, tall) = (usize::try_from(right - left).ok()?, usize::try_from(bottom - top).ok()?);
        let patch = view.patch(left, top, wide, tall)?;
        let levels = Raster::from_levels(wide, tall, patch.grey.iter().map(|level| level - base as f32));
        Some(Self { left, top, levels, wide: reach > DIRECT_REACH_PX })
    }

    /// Likeness at every place that has the whole pattern in the field.
    #[expect(clippy::cast_possible_truncation, reason = "a likeness in single precision")]
    fn likeness(&self, pattern: &Pattern) -> Raster {
        let correlate = if self.wide { by_fft } else { directly };
        let products = correlate(&self.levels, &pattern.levels);
        let squared = self.levels.mapped(|level| level * level);
        let (sums, squares) = match &pattern.used {
            None => {
                let size = (pattern.levels.width, pattern.levels.height);
                (self.levels.window_sums(size), squared.window_sums(size))
            }
            Some(used) => (correlate(&self.levels, used), correlate(&squared, used)),
        };
        let mut scores = products;
        for ((score, sum), square) in scores.cells.iter_mut().zip(&sums.cells).zip(&squares.cells) {
            let (sum, square) = (f64::from(*sum), f64::from(*square));
            let spread = square - sum * sum / pattern.n_used;
            // Below a quarter of a level's variance there is nothing but rounding.
            let flat = spread < 0.05 * pattern.n_used;
            *score = if flat { 0.0 } else { (f64::from(*score) / (pattern.length * spread.sqrt())) as f32 };
        }
        scores
    }
}

/// Place, likeness there, and the greatest likeness at least `apart_px` away.
fn best_of(scores: &Raster, apart_px: f64) -> Option<((usize, usize), f64, f64)> {
    let places = || (0..scores.height).flat_map(|y| (0..scores.width).map(move |x| (x, y)));
    let best = places().reduce(|a, b| if scores.at(b.0, b.1) > scores.at(a.0, a.1) { b } else { a })?;
    let far = |place: &(usize, usize)| {
        (place.0 as f64 - best.0 as f64).hypot(place.1 as f64 - best.1 as f64) >= apart_px
    };
    let second = places().filter(far).map(|(x, y)| scores.at(x, y)).fold(0.0_f32, f32::max);
    Some((best, f64::from(scores.at(best.0, best.1)), f64::from(second)))
}
