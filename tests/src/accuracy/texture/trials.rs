//! Many painted pairs of frames: texture matched by Filmgauge and by OpenCV on the same bytes, compared with truth.

use super::field::{Field, Motion, SIDE, eight, image, places, sixteen};
use crate::peer::ask;
use anyhow::{Context, Result};
use filmgauge_quantities::{PixelCov, PixelPoint};
use filmgauge_targets::{
    Interpolation, MatchOptions, PatchShape, PatchSize, Texture, TextureOptions, TexturePlace, match_texture,
};
use serde_json::json;
use std::collections::BTreeMap;

/// 95 % point of χ² with two degrees of freedom.
const CHI2_95: f64 = 5.991_464_547;

/// One line of the table.
pub struct Trial {
    /// Side of the patch, px.
    pub side: usize,
    /// Noise, grey levels.
    pub noise: f64,
    /// Frames that the template is the mean of.
    pub n_template: u64,
    /// Noises of each pair.
    pub n_noises: u64,
    /// The spline.
    pub interpolation: Interpolation,
}

/// What came of it.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// Root mean square error of one axis, px.
    pub rms_px: f64,
    /// Over the Cramér–Rao bound of frame and template together.
    pub of_bound: f64,
    /// Share of 95 % ellipses that hold the truth.
    pub inside: f64,
    /// Matches refused.
    pub refused: usize,
    /// Root mean square error of each peer, px; `None` where it gave no answer at all.
    pub peers: BTreeMap<String, f64>,
}

/// The template's own place: between pixels.
#[must_use]
pub fn first_place() -> TexturePlace {
    let middle = (SIDE / 2) as f64;
    TexturePlace::at(PixelPoint::new(middle + 0.2, middle - 0.1))
}

/// A painted pair of frames with the bounds of one grey level of noise.
pub struct Pair {
    place: TexturePlace,
    start: Vec<f64>,
    later: Vec<f64>,
    of_start: PixelCov,
    of_frame: PixelCov,
}

/// So many pairs, each of a field of its own, for patches of `side` px.
#[must_use]
pub fn pairs(side: usize, motion: Motion, n: usize) -> Vec<Pair> {
    let first = first_place();
    let painted = places(17, n, motion).into_iter().zip(5..).map(|(place, seed)| {
        let field = Field::new(seed);
        Pair {
            place,
            start: field.seen(&first),
            later: field.seen(&place),
            of_start: carried(&place.shape, &field.bound(&first, side)),
            of_frame: field.bound(&place, side),
        }
    });
    painted.collect()
}

/// Runs one line; `with_peers` asks OpenCV as well, on the same pictures.
///
/// # Errors
/// When a template is refused or the peers cannot be asked.
pub fn tally(pairs: &[Pair], trial: &Trial, with_peers: bool) -> Result<Tally> {
    let mut sums = Sums::default();
    let (mut cases, mut bytes, mut truths) = (Vec::new(), Vec::new(), Vec::new());
    for (index, pair) in pairs.iter().enumerate() {
        let share = 1.0 / trial.n_template as f64;
        let unit = pair.of_frame.xx + pair.of_frame.yy + share * (pair.of_start.xx + pair.of_start.yy);
        for noise_index in 0..trial.n_noises {
            let seed = 1000 * (1 + index as u64 * trial.n_noises + noise_index);
            let frame = eight(&pair.later, trial.noise, seed);
            let starts: Vec<Vec<u8>> =
                (0..trial.n_template).map(|k| eight(&pair.start, trial.noise, seed + 1 + k)).collect();
            let guess = TexturePlace { centre: pair.place.centre.moved(0.4, -0.3), ..pair.place };
            sums.add(trial, &starts, &frame, &guess, &pair.place)?;
            sums.limits += (trial.noise * trial.noise + 1.0 / 12.0) * unit;
            if with_peers {
                bytes.extend_from_slice(&starts[0]);
                bytes.extend_from_slice(&frame);
                cases.push(case(&guess));
                truths.push(pair.place);
            }
        }
    }
    let mut tally = sums.tally();
    if with_peers {
        tally.peers = peers(trial.side, &bytes, &cases, &truths)?;
    }
    Ok(tally)
}

#[derive(Default)]
struct Sums {
    squares: f64,
    limits: f64,
    inside: f64,
    n: f64,
    refused: usize,
}

impl Sums {
    fn add(
        &mut self,
        trial: &Trial,
        starts: &[Vec<u8>],
        frame: &[u8],
        guess: &TexturePlace,
        truth: &TexturePlace,
    ) -> Result<()> {
        let starts = starts.iter().map(|bytes| image(bytes.clone())).collect::<Result<Vec<_>>>()?;
        let views: Vec<_> = starts.iter().map(|start| (start.view(), first_place().centre)).collect();
        let options = TextureOptions { interpolation: trial.interpolation, ..TextureOptions::default() };
        let texture = Texture::averaged(&views, PatchSize::square(trial.side), &options)?;
        let frame = image(frame.to_vec())?;
        let Ok(found) = match_texture(&frame.view(), guess, &texture, &MatchOptions::default()) else {
            self.refused += 1;
            return Ok(());
        };
        let (dx, dy) = (found.centre.x - truth.centre.x, found.centre.y - truth.centre.y);
        self.squares += dx * dx + dy * dy;
        self.inside += f64::from(u8::from(found.cov.mahalanobis2(dx, dy).is_some_and(|d2| d2 <= CHI2_95)));
        self.n += 1.0;
        Ok(())
    }

    fn tally(&self) -> Tally {
        Tally {
            rms_px: (self.squares / self.n / 2.0).sqrt(),
            of_bound: (self.squares / self.limits).sqrt(),
            inside: self.inside / self.n,
            refused: self.refused,
            peers: BTreeMap::new(),
        }
    }
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

fn case(guess: &TexturePlace) -> serde_json::Value {
    let shape = guess.shape;
    json!([guess.centre.x, guess.centre.y, shape.xx, shape.xy, shape.yx, shape.yy])
}

/// Root mean square error of each peer.
fn peers(
    side: usize,
    bytes: &[u8],
    cases: &[serde_json::Value],
    truths: &[TexturePlace],
) -> Result<BTreeMap<String, f64>> {
    let folder = tempfile::tempdir()?;
    let pictures = folder.path().join("pictures.raw");
    std::fs::write(&pictures, bytes)?;
    let first = first_place().centre;
    let question = json!({
        "pictures": pictures, "side": SIDE, "patch": side, "first": [first.x, first.y], "guesses": cases,
    });
    let answer = ask("texture.py", &question)?;
    let answers = answer.as_object().context("the peers gave no table")?;
    let mut errors = BTreeMap::new();
    for (name, places) in answers {
        let places: Vec<Option<[f64; 2]>> = serde_json::from_value(places.clone())?;
        let found = places.iter().zip(truths).filter_map(|(place, truth)| Some((place.as_ref()?, truth)));
        let squares: Vec<f64> = found
            .map(|(place, truth)| PixelPoint::new(place[0], place[1]).distance(truth.centre).powi(2))
            .collect();
        if !squares.is_empty() {
            errors.insert(name.clone(), (squares.iter().sum::<f64>() / squares.len() as f64 / 2.0).sqrt());
        }
    }
    Ok(errors)
}

/// Greatest less least error along x over 40 shifts within a pixel, without noise, 16 bits, px.
///
/// # Errors
/// When a template or a match is refused.
pub fn bias(side: usize, interpolation: Interpolation, shortest_px: f64) -> Result<f64> {
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    let field = Field::of_waves(5, shortest_px);
    let first = first_place();
    let start = sixteen(&field.seen(&first))?;
    let options = TextureOptions { interpolation, ..TextureOptions::default() };
    let texture = Texture::new(&start.view(), first.centre, PatchSize::square(side), &options)?;
    for k in 0..40 {
        let centre = first.centre.moved(f64::from(k) / 40.0, f64::from((7 * k) % 40) / 40.0);
        let frame = sixteen(&field.seen(&TexturePlace::at(centre)))?;
        let found =
            match_texture(&frame.view(), &TexturePlace::at(centre), &texture, &MatchOptions::default())?;
        least = least.min(found.centre.x - centre.x);
        most = most.max(found.centre.x - centre.x);
    }
    Ok(most - least)
}
