//! Patches of a random field whose truth is known everywhere: accuracy against the bound, intervals, masks, refusals.

use super::*;
use crate::BlemishMask;
use crate::painted::Canvas;
use filmgauge_quantities::{GreyImage, PixelCov, PixelPoint};
use nalgebra::SMatrix;
use rand_distr::{Distribution, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const SIDE: usize = 61;

/// A sum of plane waves of random direction and phase, seen through a Gaussian point spread of 0.7 px and averaged over
/// each pixel's area: both only weaken a wave, so every level is exact.
struct Field {
    waves: Vec<[f64; 4]>,
}

impl Field {
    /// Wavelengths from 3 to 24 px, weaker the shorter; standard deviation of the unblurred levels `contrast`.
    fn new(seed: u64, contrast: f64) -> Self {
        Self::of_waves(seed, contrast, 3.0)
    }

    fn of_waves(seed: u64, contrast: f64, shortest_px: f64) -> Self {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let unit = Uniform::new(0.0, 1.0).unwrap();
        let mut waves = Vec::new();
        for _ in 0..100 {
            let mut draw = || unit.sample(&mut random);
            let wavelength = shortest_px * (24.0 / shortest_px).powf(draw());
            let (sin, cos) = (std::f64::consts::TAU * draw()).sin_cos();
            let k = std::f64::consts::TAU / wavelength;
            waves.push([k * cos, k * sin, std::f64::consts::TAU * draw(), wavelength.sqrt()]);
        }
        let power: f64 = waves.iter().map(|wave| wave[3] * wave[3] / 2.0).sum();
        waves.iter_mut().for_each(|wave| wave[3] *= contrast / power.sqrt());
        Self { waves }
    }

    /// A picture with the field's centre at `place`.
    fn seen(&self, place: &TexturePlace) -> Canvas {
        let shape = place.shape;
        let det = shape.xx * shape.yy - shape.xy * shape.yx;
        let waves = self.waves.iter().map(|&[kx, ky, phase, height]| {
            let (qx, qy) = ((shape.yy * kx - shape.yx * ky) / det, (shape.xx * ky - shape.xy * kx) / det);
            let spread = (-0.5 * 0.49 * (qx * qx + qy * qy)).exp();
            (qx, qy, phase, height * spread * sinc(qx / 2.0) * sinc(qy / 2.0))
        });
        let waves: Vec<_> = waves.collect();
        Canvas::new(SIDE, SIDE, |x, y| {
            let (dx, dy) = (x - place.centre.x, y - place.centre.y);
            128.0 + waves.iter().map(|(qx, qy, p, h)| h * (qx * dx + qy * dy + p).cos()).sum::<f64>()
        })
    }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { x.sin() / x }
}

/// Cramér–Rao bound of the centre for one grey level of noise: affine warp, gain and offset unknown, all pixels under
/// the patch. Slopes by central differences of the painted picture.
fn bound(field: &Field, place: &TexturePlace, side: usize) -> PixelCov {
    let moved = |k: usize, by: f64| {
        let mut place = *place;
        let to = match k {
            0 => &mut place.centre.x,
            1 => &mut place.centre.y,
            2 => &mut place.shape.xx,
            3 => &mut place.shape.xy,
            4 => &mut place.shape.yx,
            _ => &mut place.shape.yy,
        };
        *to += by;
        field.seen(&place).levels
    };
    let steps: Vec<_> = (0..6)
        .map(|k| {
            let by = if k < 2 { 0.01 } else { 0.001 };
            (moved(k, by), moved(k, -by), 2.0 * by)
        })
        .collect();
    let levels = field.seen(place).levels;
    let det = place.shape.xx * place.shape.yy - place.shape.xy * place.shape.yx;
    let mut information = SMatrix::<f64, 8, 8>::zeros();
    for (i, level) in levels.iter().enumerate() {
        let (dx, dy) = ((i % SIDE) as f64 - place.centre.x, (i / SIDE) as f64 - place.centre.y);
        let u = (place.shape.yy * dx - place.shape.xy * dy) / det;
        let v = (place.shape.xx * dy - place.shape.yx * dx) / det;
        if u.abs() > side as f64 / 2.0 || v.abs() > side as f64 / 2.0 {
            continue;
        }
        let mut row = SMatrix::<f64, 8, 1>::zeros();
        for k in 0..6 {
            row[k] = (steps[k].0[i] - steps[k].1[i]) / steps[k].2;
        }
        row[6] = (level - 128.0) / 30.0;
        row[7] = 1.0;
        information += row * row.transpose();
    }
    let cov = information.try_inverse().unwrap();
    PixelCov { xx: cov[(0, 0)], xy: cov[(0, 1)], yy: cov[(1, 1)] }
}

fn carried(shape: &PatchShape, cov: &PixelCov) -> PixelCov {
    let row = |a: f64, b: f64| (a * cov.xx + b * cov.xy, a * cov.xy + b * cov.yy);
    let (x, y) = (row(shape.xx, shape.xy), row(shape.yx, shape.yy));
    PixelCov {
        xx: x.0 * shape.xx + x.1 * shape.xy,
        xy: x.0 * shape.yx + x.1 * shape.yy,
        yy: y.0 * shape.yx + y.1 * shape.yy,
    }
}

fn first_place() -> TexturePlace {
    TexturePlace::at(PixelPoint::new(30.2, 29.9))
}

fn made(field: &Field, noise: f64, options: &TextureOptions) -> Texture {
    let start = field.seen(&first_place()).eight(noise, 9);
    Texture::new(&start.view(), first_place().centre, PatchSize::square(PATCH), options).unwrap()
}

/// Places at random: shifts of a pixel, and shapes up to `bend` off.
fn places(seed: u64, n: usize, bend: f64) -> Vec<TexturePlace> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let even = Uniform::new(-1.0, 1.0).unwrap();
    let mut draw = || even.sample(&mut random);
    (0..n)
        .map(|_| {
            let turned = PatchShape::turned(2.0 * bend * draw(), 1.0 + bend * draw());
            let shape = PatchShape {
                xx: turned.xx + 0.3 * bend * draw(),
                xy: turned.xy + 0.3 * bend * draw(),
                ..turned
            };
            TexturePlace { centre: PixelPoint::new(30.0 + draw(), 30.0 + draw()), shape }
        })
        .collect()
}

#[derive(Debug)]
struct Tally {
    /// Root mean square error over the bound, template's noise included.
    efficiency: f64,
    /// Stated standard uncertainty over the bound, root mean square.
    stated: f64,
    /// Share of 95 % ellipses that hold the truth.
    inside: f64,
}

/// A painted pair with its bounds for one grey level of noise.
struct Pair {
    place: TexturePlace,
    start: Canvas,
    later: Canvas,
    of_frame: PixelCov,
    of_start: PixelCov,
}

const PATCH: usize = 31;

fn pairs(n: usize, bend: f64) -> Vec<Pair> {
    let first = first_place();
    let places = places(17, n, bend).into_iter().enumerate();
    places
        .map(|(index, place)| {
            let field = Field::new(5 + index as u64, 45.0);
            let of_start = carried(&place.shape, &bound(&field, &first, PATCH));
            let of_frame = bound(&field, &place, PATCH);
            Pair { place, start: field.seen(&first), later: field.seen(&place), of_frame, of_start }
        })
        .collect()
}

fn tally(pairs: &[Pair], noise: f64, n_template: u64, n_noises: u64, options: &TextureOptions) -> Tally {
    let (mut squares, mut limits, mut stated, mut inside, mut n) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let first = first_place();
    for (index, pair) in pairs.iter().enumerate() {
        for seed in 0..n_noises {
            let seed = 1000 * (index as u64 * n_noises + seed);
            let starts: Vec<GreyImage> =
                (0..n_template).map(|k| pair.start.eight(noise, seed + 1 + k)).collect();
            let views: Vec<_> = starts.iter().map(|image| (image.view(), first.centre)).collect();
            let texture = Texture::averaged(&views, PatchSize::square(PATCH), options).unwrap();
            let frame = pair.later.eight(noise, seed);
            let guess = TexturePlace { centre: pair.place.centre.moved(0.4, -0.3), ..pair.place };
            let found = match_texture(&frame.view(), &guess, &texture, &MatchOptions::default()).unwrap();
            let (dx, dy) = (found.centre.x - pair.place.centre.x, found.centre.y - pair.place.centre.y);
            squares += dx * dx + dy * dy;
            stated += found.cov.xx + found.cov.yy;
            let share = 1.0 / n_template as f64;
            let unit = pair.of_frame.xx + pair.of_frame.yy + share * (pair.of_start.xx + pair.of_start.yy);
            limits += (noise.powi(2) + 1.0 / 12.0) * unit;
            inside += f64::from(found.cov.mahalanobis2(dx, dy).unwrap() < 5.991);
            n += 1.0;
        }
    }
    Tally { efficiency: (squares / limits).sqrt(), stated: (stated / limits).sqrt(), inside: inside / n }
}

#[test]
fn error_is_at_the_bound_and_ellipses_hold() {
    // 144 matches: the root mean square is good to 4 %, the share to 2 %.
    let pairs = pairs(6, 0.1);
    for interpolation in [Interpolation::Cubic, Interpolation::Quintic] {
        let options = TextureOptions { interpolation, ..TextureOptions::default() };
        for (noise, n_template, limit) in [(2.0, 1, 1.13), (5.0, 1, 1.19), (2.0, 8, 1.12)] {
            let tally = tally(&pairs, noise, n_template, 24, &options);
            assert!(tally.efficiency < limit, "{interpolation:?} {noise} {n_template} {tally:?}");
            assert!((0.90..0.99).contains(&tally.inside), "{interpolation:?} {noise} {n_template} {tally:?}");
            assert!((tally.stated / tally.efficiency - 1.0).abs() < 0.12, "{tally:?}");
        }
    }
}

#[test]
fn bias_over_sub_pixel_shifts_is_small() {
    for (interpolation, shortest_px, limit) in [
        (Interpolation::Cubic, 3.0, 0.0035),
        (Interpolation::Cubic, 4.0, 0.003),
        (Interpolation::Quintic, 3.0, 0.001),
        (Interpolation::Quintic, 4.0, 0.001),
    ] {
        let field = Field::of_waves(5, 40.0, shortest_px);
        let options = TextureOptions { interpolation, ..TextureOptions::default() };
        let start = field.seen(&first_place()).sixteen();
        let texture =
            Texture::new(&start.view(), first_place().centre, PatchSize::square(PATCH), &options).unwrap();
        let errors = (0..12).map(|k| {
            let place = TexturePlace::at(first_place().centre.moved(f64::from(k) / 12.0, f64::from(k) / 7.0));
            let frame = field.seen(&place).sixteen();
            let found = match_texture(&frame.view(), &place, &texture, &MatchOptions::default()).unwrap();
            found.centre.x - place.centre.x
        });
        let (least, most) = errors.fold((f64::MAX, f64::MIN), |(least, most), e| (least.min(e), most.max(e)));
        assert!(most - least < limit, "{interpolation:?} {shortest_px} {least} {most}");
    }
}

#[test]
fn shape_gain_and_offset_are_found() {
    let field = Field::new(3, 40.0);
    for warp in [Warp::Translation, Warp::Similarity, Warp::Affine] {
        let texture = made(&field, 1.0, &TextureOptions { warp, ..TextureOptions::default() });
        let shape = match warp {
            Warp::Translation => PatchShape::default(),
            Warp::Similarity => PatchShape::turned(0.06, 1.05),
            Warp::Affine => PatchShape { xx: 1.06, xy: -0.05, yx: 0.08, yy: 0.95 },
        };
        let truth = TexturePlace { centre: PixelPoint::new(30.9, 29.4), shape };
        let frame = field.seen(&truth).changed(|_, _, level| 40.0 + 0.6 * level).eight(1.0, 7);
        let found = match_texture(&frame.view(), &first_place(), &texture, &MatchOptions::default()).unwrap();
        assert!(found.centre.distance(truth.centre) < 0.02, "{warp:?} {found:?}");
        assert!((found.shape.xx - shape.xx).abs() < 3e-3 && (found.shape.yx - shape.yx).abs() < 3e-3);
        assert!((found.gain - 0.6).abs() < 0.02 && found.zncc > 0.97, "{found:?}");
        assert!((found.noise - 1.05).abs() < 0.15, "{found:?}");
        assert!(found.template_cov.xx < found.cov.xx, "{found:?}");
    }
}

#[test]
fn saturated_and_hidden_pixels_are_left_out() {
    let field = Field::new(3, 40.0);
    let texture = made(&field, 1.0, &TextureOptions::default());
    let truth = TexturePlace::at(PixelPoint::new(30.7, 30.2));
    let lamp = |x: f64, y: f64| (x - 36.0).hypot(y - 34.0) < 6.0;
    let glare =
        field.seen(&truth).changed(|x, y, level| if lamp(x, y) { 300.0 } else { level }).eight(1.0, 7);
    let found = match_texture(&glare.view(), &first_place(), &texture, &MatchOptions::default()).unwrap();
    assert!(found.centre.distance(truth.centre) < 0.02 && found.masked_share > 0.1, "{found:?}");
    let pole = |x: f64| (22.0..28.0).contains(&x);
    let behind = field.seen(&truth).changed(|x, _, level| if pole(x) { 90.0 } else { level }).eight(1.0, 8);
    let marked: Vec<bool> = (0..SIDE * SIDE).map(|i| pole((i % SIDE) as f64)).collect();
    let n_pixels = marked.iter().filter(|marked| **marked).count();
    let mask = BlemishMask { x0: 0, y0: 0, width: SIDE, height: SIDE, marked, n_pixels, n_spots: 1 };
    let options = MatchOptions::default();
    let found =
        match_texture_masked(&behind.view(), &first_place(), &texture, Some(&mask), &options).unwrap();
    assert!(found.centre.distance(truth.centre) < 0.02, "{found:?}");
    let white = field.seen(&truth).changed(|_, y, level| if y > 25.0 { 300.0 } else { level }).eight(1.0, 9);
    let refused = match_texture(&white.view(), &first_place(), &texture, &options);
    assert!(matches!(refused, Err(TextureFailure::Masked { .. })), "{refused:?}");
}

#[test]
fn what_has_no_texture_is_refused() {
    let centre = PixelPoint::new(30.0, 30.0);
    let size = PatchSize::square(31);
    let options = TextureOptions::default();
    let refused = |canvas: Canvas, noise: f64| {
        Texture::new(&canvas.eight(noise, 3).view(), centre, size, &options).unwrap_err()
    };
    let flat = refused(Canvas::new(SIDE, SIDE, |_, _| 90.0), 0.0);
    assert!(matches!(flat, TextureFailure::NoTexture { .. }), "{flat:?}");
    let noise = refused(Canvas::new(SIDE, SIDE, |_, _| 90.0), 4.0);
    assert!(matches!(noise, TextureFailure::NoTexture { .. }), "{noise:?}");
    let edge = refused(Canvas::new(SIDE, SIDE, |x, _| 90.0 + 60.0 * ((x - 30.0) / 2.0).tanh()), 2.0);
    assert!(matches!(edge, TextureFailure::NoTexture { .. }), "{edge:?}");
    let image = Field::new(3, 40.0).seen(&first_place()).eight(1.0, 1);
    let new = |x: f64, size| Texture::new(&image.view(), PixelPoint::new(x, 30.0), size, &options);
    assert!(matches!(new(5.0, size), Err(TextureFailure::LeftPicture { .. })));
    assert!(matches!(new(f64::NAN, size), Err(TextureFailure::Guess)));
    assert!(matches!(new(30.0, PatchSize::square(30)), Err(TextureFailure::Size { .. })));
}

#[test]
fn what_is_not_the_patch_is_refused() {
    let field = Field::new(3, 40.0);
    let texture = made(&field, 1.0, &TextureOptions::default());
    let options = MatchOptions::default();
    let at = |image: &GreyImage, x: f64| {
        match_texture(&image.view(), &TexturePlace::at(PixelPoint::new(x, 30.0)), &texture, &options)
    };
    let other = Field::new(99, 40.0).seen(&first_place()).eight(1.0, 5);
    assert!(at(&other, 30.0).is_err());
    let flat = Canvas::new(SIDE, SIDE, |_, _| 90.0).eight(1.0, 5);
    assert!(at(&flat, 30.0).is_err());
    let same = field.seen(&first_place()).eight(1.0, 6);
    assert!(matches!(at(&same, 3.0), Err(TextureFailure::LeftPicture { .. })));
    assert!(matches!(at(&same, f64::INFINITY), Err(TextureFailure::Guess)));
    let few = MatchOptions { most_iterations: 1, ..options.clone() };
    let guess = TexturePlace::at(first_place().centre.moved(0.8, 0.0));
    let stopped = match_texture(&same.view(), &guess, &texture, &few);
    assert!(matches!(stopped, Err(TextureFailure::NotSettled { .. })), "{stopped:?}");
}

#[test]
fn search_finds_the_patch_in_small_and_wide_gates() {
    let field = Field::new(3, 40.0);
    let texture = made(&field, 1.0, &TextureOptions { warp: Warp::Similarity, ..TextureOptions::default() });
    for (shape, reach_px) in
        [(PatchShape::default(), 6.0), (PatchShape::default(), 20.0), (PatchShape::turned(0.4, 1.0), 20.0)]
    {
        let truth = TexturePlace { centre: PixelPoint::new(32.3, 26.6), shape };
        let frame = field.seen(&truth).eight(2.0, 7);
        let near = TexturePlace { centre: PixelPoint::new(28.0, 30.0), shape };
        let found = search(&frame.view(), &SearchGate { near, reach_px }, &texture).unwrap();
        assert!(found.place.centre.distance(truth.centre) < 0.8 && found.zncc > 0.8, "{reach_px} {found:?}");
        assert!(found.second < found.zncc, "{found:?}");
        let fine = match_texture(&frame.view(), &found.place, &texture, &MatchOptions::default()).unwrap();
        assert!(fine.centre.distance(truth.centre) < 0.03, "{fine:?}");
    }
    let frame = field.seen(&first_place()).eight(2.0, 7);
    let gate = SearchGate { near: TexturePlace::at(PixelPoint::new(-80.0, 30.0)), reach_px: 5.0 };
    assert!(search(&frame.view(), &gate, &texture).is_err());
}

#[test]
fn a_renewed_template_keeps_the_original_centre() {
    let field = Field::new(3, 40.0);
    let weathered = Field::new(44, 4.0);
    let mut texture = made(&field, 2.0, &TextureOptions::default());
    let matching = MatchOptions::default();
    let mut mean = (0.0, 0.0);
    for round in 0..6_u32 {
        // Dirt gathers on the patch, a little more every round.
        let strength = f64::from(round) / 6.0;
        let frames: Vec<(GreyImage, TexturePlace)> = places(u64::from(round), 8, 0.03)
            .into_iter()
            .enumerate()
            .map(|(k, place)| {
                let dirt = weathered.seen(&place);
                let seen = field.seen(&place).changed(|x, y, level| {
                    level + strength * (dirt.levels[y as usize * SIDE + x as usize] - 128.0)
                });
                (seen.eight(2.0, 100 * u64::from(round) + k as u64), place)
            })
            .collect();
        let views: Vec<_> = frames.iter().map(|(image, place)| (image.view(), *place)).collect();
        texture = texture.renewed(&views, &matching, &RenewOptions::default()).unwrap();
        let errors = frames.iter().map(|(image, place)| {
            let found = match_texture(&image.view(), place, &texture, &matching).unwrap();
            (found.centre.x - place.centre.x, found.centre.y - place.centre.y)
        });
        mean = errors.fold((0.0, 0.0), |sum, e| (sum.0 + e.0 / 8.0, sum.1 + e.1 / 8.0));
    }
    assert!(mean.0.hypot(mean.1) < 0.03, "{mean:?}");
    let alien = Field::new(9, 40.0);
    let frames: Vec<_> =
        places(2, 8, 0.0).iter().map(|place| (alien.seen(place).eight(2.0, 3), *place)).collect();
    let views: Vec<_> = frames.iter().map(|(image, place)| (image.view(), *place)).collect();
    let refused = texture.renewed(&views, &matching, &RenewOptions::default());
    assert!(matches!(refused, Err(TextureFailure::Drift { .. })), "{refused:?}");
}

#[test]
fn settings_out_of_range_are_named() {
    assert!(TextureOptions::default().check().is_ok() && MatchOptions::default().check().is_ok());
    assert!(RenewOptions::default().check().is_ok());
    assert!(TextureOptions { greatest_u_px: 0.0, ..TextureOptions::default() }.check().is_err());
    assert!(MatchOptions { least_zncc: 1.5, ..MatchOptions::default() }.check().is_err());
    assert!(RenewOptions { bound_px: -1.0, ..RenewOptions::default() }.check().is_err());
}
