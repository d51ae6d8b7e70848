//! First stage of spotting: a corner response from 16 samples on a ring, at three scales, and its peaks.
//!
//! After Bennett & Lasenby 2014 (Computer Vision and Image Understanding 118:197-210): where opposite samples
//! agree and samples a quarter turn apart differ, two edges cross.

use filmgauge_quantities::{GreyView, PixelPoint};
use imageproc::filter::separable_filter_equal;
use imageproc::image::{ImageBuffer, Luma};
use imageproc::suppress::suppress_non_maximum;
use rayon::prelude::*;

type FloatImage = ImageBuffer<Luma<f32>, Vec<f32>>;

/// The response in sixteenths of a grey level: whole numbers, so that peaks are ordered without doubt.
type ResponseImage = ImageBuffer<Luma<u32>, Vec<u32>>;

/// Steps of the response to a grey level.
const STEPS_PER_GREY: f32 = 16.0;

/// Ring of radius 4 in steps of a sixteenth of a turn: column and row offsets.
const RING: [(isize, isize); 16] = [
    (4, 0),
    (4, 2),
    (3, 3),
    (2, 4),
    (0, 4),
    (-2, 4),
    (-3, 3),
    (-4, 2),
    (-4, 0),
    (-4, -2),
    (-3, -3),
    (-2, -4),
    (0, -4),
    (2, -4),
    (3, -3),
    (4, -2),
];

/// Reach of the ring, px.
const REACH: usize = 4;

/// Halvings of the picture after the first scale.
const N_HALVINGS: u32 = 2;

/// Most peaks kept at one scale, strongest first.
const MOST_PEAKS: usize = 500;

/// Response of a clean corner as a multiple of its contrast: eight quarter-turn differences, fewer near the edges.
const RESPONSE_PER_CONTRAST: f64 = 3.0;

/// A place that may be the centre of a target.
pub(super) struct Candidate {
    pub(super) place: PixelPoint,
    /// Size of one pixel of the scale at which it was seen, px.
    pub(super) scale_px: f64,
}

/// Peaks of the response at all scales, coarsest scale last.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a positive response far below 2^32"
)]
pub(super) fn candidates(view: &GreyView, least_contrast: f64) -> Vec<Candidate> {
    let mut found = Vec::new();
    let Some(mut picture) = floats(view) else { return found };
    let mut scale_px = 1.0;
    for halving in 0..=N_HALVINGS {
        if halving > 0 {
            picture = halved(&picture);
            scale_px *= 2.0;
        }
        let (width, height) = picture.dimensions();
        if (width as usize) <= 2 * REACH || (height as usize) <= 2 * REACH {
            break;
        }
        let smooth = separable_filter_equal(&picture, &[0.25_f32, 0.5, 0.25]);
        let response = response(&smooth);
        let least = (RESPONSE_PER_CONTRAST * least_contrast * f64::from(STEPS_PER_GREY)) as u32;
        for (x, y) in peaks(&response, least) {
            let middle = (scale_px - 1.0) / 2.0;
            let place = PixelPoint::new(x * scale_px + middle, y * scale_px + middle);
            found.push(Candidate { place, scale_px });
        }
    }
    found
}

fn floats(view: &GreyView) -> Option<FloatImage> {
    let patch = view.patch(0, 0, view.width(), view.height())?;
    let (width, height) = (u32::try_from(view.width()).ok()?, u32::try_from(view.height()).ok()?);
    FloatImage::from_raw(width, height, patch.grey)
}

/// Means of two by two pixels.
fn halved(picture: &FloatImage) -> FloatImage {
    let wide = picture.width() as usize;
    let (width, height) = (picture.width() / 2, picture.height() / 2);
    let samples = picture.as_raw();
    FloatImage::from_fn(width, height, |x, y| {
        let at = 2 * y as usize * wide + 2 * x as usize;
        Luma([(samples[at] + samples[at + 1] + samples[at + wide] + samples[at + wide + 1]) / 4.0])
    })
}

/// Sum of quarter-turn differences, less differences of opposite samples, less how far ring and middle differ.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "negative responses are cut to 0 and the greatest is far below 2^32"
)]
fn response(picture: &FloatImage) -> ResponseImage {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let samples = picture.as_raw();
    let mut values = vec![0_u32; width * height];
    let rows = values.par_chunks_mut(width).enumerate();
    rows.filter(|(y, _)| (REACH..height - REACH).contains(y)).for_each(|(y, row)| {
        let line = |dx: isize, dy: isize| {
            let from = (y.wrapping_add_signed(dy) * width + REACH).wrapping_add_signed(dx);
            &samples[from..from + width - 2 * REACH]
        };
        let ring = RING.map(|(dx, dy)| line(dx, dy));
        let middle = [line(0, 0), line(1, 0), line(-1, 0), line(0, 1), line(0, -1)];
        for (i, value) in row[REACH..width - REACH].iter_mut().enumerate() {
            let (mut quarter, mut opposite, mut sum) = (0.0, 0.0, 0.0);
            for k in 0..4 {
                let (a, b, c, d) = (ring[k][i], ring[k + 4][i], ring[k + 8][i], ring[k + 12][i]);
                quarter += (a + c - b - d).abs();
                opposite += (a - c).abs() + (b - d).abs();
                sum += a + b + c + d;
            }
            let inside = middle.iter().map(|samples| samples[i]).sum::<f32>() / 5.0;
            let response = quarter - opposite - (sum - 16.0 * inside).abs();
            *value = (response.max(0.0) * STEPS_PER_GREY) as u32;
        }
    });
    ResponseImage::from_raw(picture.width(), picture.height(), values).unwrap_or_default()
}

/// Columns and rows of the strongest local peaks of at least `least`.
fn peaks(response: &ResponseImage, least: u32) -> Vec<(f64, f64)> {
    let suppressed = suppress_non_maximum(response, 3);
    let mut strong: Vec<(u32, u32, u32)> = suppressed
        .enumerate_pixels()
        .filter(|(_, _, level)| level[0] >= least.max(1))
        .map(|(x, y, level)| (level[0], x, y))
        .collect();
    strong.sort_by(|a, b| b.0.cmp(&a.0).then(a.2.cmp(&b.2)).then(a.1.cmp(&b.1)));
    strong.truncate(MOST_PEAKS);
    strong.into_iter().map(|(_, x, y)| (f64::from(x), f64::from(y))).collect()
}
