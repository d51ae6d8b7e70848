//! Speed of texture matching: 31 x 31 px, affine, one thread and two, beside OpenCV's ECC in the same run.

use crate::accuracy::texture::{Field, Motion, SIDE, eight, first_place, image, places};
use crate::peer::ask;
use anyhow::{Context, Result};
use filmgauge_quantities::GreyImage;
use filmgauge_targets::{
    Interpolation, MatchOptions, PatchSize, SearchGate, Texture, TextureOptions, TexturePlace, match_texture,
    search,
};
use rayon::prelude::*;
use serde_json::json;
use std::fmt::Write;
use std::time::Instant;

/// Side of the patch, px.
const PATCH: usize = 31;

/// Each time is the least of so many runs.
const RUNS: usize = 40;

/// Frames of one texture, their guesses, and its first frame.
struct Film {
    first: Vec<u8>,
    frames: Vec<Vec<u8>>,
    guesses: Vec<TexturePlace>,
}

/// The section of `docs/performance.md`.
///
/// # Errors
/// When a match is refused, or OpenCV cannot be asked.
pub fn page() -> Result<String> {
    let film = film();
    let mut page = format!(
        "## Texture matching\n\n\
         {PATCH} x {PATCH} px, affine, noise 2 grey, guesses 0.5 px off, {} frames; least time of each frame in {RUNS} runs (two threads: of all frames); every match cuts out \
         and splines its own piece of the frame. ECC on the same bytes, same guesses, one thread.\n\n\
         | method | points/s, 1 thread | 2 threads | rounds a point |\n| --- | --- | --- | --- |\n",
        film.frames.len()
    );
    let ecc = peer(&film)?;
    for (name, interpolation) in [("cubic", Interpolation::Cubic), ("quintic", Interpolation::Quintic)] {
        let (one, two, rounds) = speed(&film, interpolation)?;
        let _ = writeln!(page, "| {name} B-spline | {one:.0} | {two:.0} | {rounds:.2} |");
    }
    let _ = writeln!(page, "| OpenCV findTransformECC | {ecc:.0} | – | – |\n");
    page.push_str("| search, gate ± px | time, µs |\n| --- | --- |\n");
    for reach_px in [3.0, 5.0, 10.0, 16.0, 24.0] {
        let _ = writeln!(page, "| {reach_px} | {:.1} |", 1e6 * search_time(&film, reach_px)?);
    }
    Ok(page)
}

fn film() -> Film {
    let field = Field::new(5);
    let places = places(3, 100, Motion::Slant);
    let frames = places.iter().enumerate().map(|(k, place)| eight(&field.seen(place), 2.0, 10 + k as u64));
    let guesses =
        places.iter().map(|place| TexturePlace { centre: place.centre.moved(0.4, -0.3), ..*place }).collect();
    Film { first: eight(&field.seen(&first_place()), 2.0, 1), frames: frames.collect(), guesses }
}

/// Points a second on one thread by the least time of each frame, on two by the least time of all, and mean rounds.
fn speed(film: &Film, interpolation: Interpolation) -> Result<(f64, f64, f64)> {
    let options = TextureOptions { interpolation, ..TextureOptions::default() };
    let first = image(film.first.clone())?;
    let texture = Texture::new(&first.view(), first_place().centre, PatchSize::square(PATCH), &options)?;
    let frames: Vec<GreyImage> =
        film.frames.iter().map(|bytes| image(bytes.clone())).collect::<Result<_>>()?;
    let matching = MatchOptions::default();
    let (mut each, mut rounds) = (vec![f64::INFINITY; frames.len()], vec![0.0; frames.len()]);
    for _ in 0..RUNS {
        for (k, (frame, guess)) in frames.iter().zip(&film.guesses).enumerate() {
            let start = Instant::now();
            let found = match_texture(&frame.view(), guess, &texture, &matching)?;
            each[k] = start.elapsed().as_secs_f64().min(each[k]);
            rounds[k] = f64::from(found.iterations);
        }
    }
    let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build()?;
    let mut both = f64::INFINITY;
    for _ in 0..RUNS {
        let start = Instant::now();
        pool.install(|| {
            let pairs = frames.par_iter().zip(&film.guesses).with_min_len(10);
            pairs.try_for_each(|(frame, guess)| {
                match_texture(&frame.view(), guess, &texture, &matching).map(|_found| ())
            })
        })?;
        both = both.min(start.elapsed().as_secs_f64());
    }
    let n = frames.len() as f64;
    Ok((n / each.iter().sum::<f64>(), n / both, rounds.iter().sum::<f64>() / n))
}

/// Least time of one search, s.
fn search_time(film: &Film, reach_px: f64) -> Result<f64> {
    let first = image(film.first.clone())?;
    let options = TextureOptions::default();
    let texture = Texture::new(&first.view(), first_place().centre, PatchSize::square(PATCH), &options)?;
    let mut best = f64::INFINITY;
    for (bytes, guess) in film.frames.iter().zip(&film.guesses).take(RUNS) {
        let frame = image(bytes.clone())?;
        let near = TexturePlace::at(guess.centre.moved(1.3, -1.2));
        let start = Instant::now();
        search(&frame.view(), &SearchGate { near, reach_px }, &texture)?;
        best = best.min(start.elapsed().as_secs_f64());
    }
    Ok(best)
}

fn peer(film: &Film) -> Result<f64> {
    let folder = tempfile::tempdir()?;
    let pictures = folder.path().join("pictures.raw");
    let bytes: Vec<u8> =
        film.frames.iter().flat_map(|frame| film.first.iter().chain(frame)).copied().collect();
    std::fs::write(&pictures, bytes)?;
    let first = first_place().centre;
    let guesses: Vec<_> = film
        .guesses
        .iter()
        .map(|guess| {
            let shape = guess.shape;
            json!([guess.centre.x, guess.centre.y, shape.xx, shape.xy, shape.yx, shape.yy])
        })
        .collect();
    let answer = ask(
        "texture.py",
        &json!({
            "pictures": pictures, "side": SIDE, "patch": PATCH, "first": [first.x, first.y],
            "guesses": guesses, "speed": RUNS,
        }),
    )?;
    answer["ecc_points_per_s"].as_f64().context("OpenCV gave no speed")
}
