//! Marked films read by PyAV and OpenCV: picture k shows the number of frame k, and the mark of frame k where the results
//! put it.

use crate::python::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_dossier::{Dossier, Unwatched};
use filmgauge_marked::{MarkedMade, MarkedOptions, marked_film};
use filmgauge_tests::footage_films::films::{HEIGHT, WIDTH};
use filmgauge_tests::marked_films::{GAP, Numbered, mark_at};
use serde_json::{Value, json};
use std::path::Path;

/// The ring is found to this, px of the film: a pixel of the marked picture is a seventh of it, and H.264 halves colour.
const NEAR_PX: f64 = 0.35;

/// The film, and what both readers found in it.
fn marked(numbered: &Numbered, name: &str, options: &MarkedOptions) -> Result<(MarkedMade, Value)> {
    let dossier = Dossier::read(&numbered.folder)?;
    let made = marked_film(&dossier, options, &numbered.folder.join(name), &Unwatched)?;
    let question = json!({
        "source": numbered.film,
        "marked": made.path,
        "film_at": made.film_at,
        "film_size": [WIDTH, HEIGHT],
    });
    let answer = ask("marked.py", &question)?;
    Ok((made, answer))
}

/// Every picture from `first` on is the frame of its number, with that frame's mark or without one.
fn is_in_step(answer: &Value, first: u32, numbers: &[u64], damaged: &[bool]) -> Result<()> {
    for reader in ["pyav", "opencv"] {
        let found = &answer[reader];
        let shown = found["numbers"].as_array().context("no numbers")?;
        ensure!(shown.len() == numbers.len(), "{reader}: {} pictures of {}", shown.len(), numbers.len());
        for (at, (shown, number)) in shown.iter().zip(numbers).enumerate() {
            let frame = first + u32::try_from(at)?;
            let is_sound = !damaged.get(frame as usize).copied().unwrap_or(false);
            ensure!(
                !is_sound || shown.as_u64() == Some(*number),
                "{reader}: picture {at} shows {shown}, not {number}"
            );
            let ring = found["rings"][at].as_array();
            ensure!(ring.is_some() != GAP.contains(&frame), "{reader}: frame {frame}: a ring {ring:?}");
            let Some(ring) = ring else { continue };
            let [x, y] = mark_at(frame);
            let away = [ring[0].as_f64(), ring[1].as_f64()].map(Option::unwrap_or_default);
            let away = (away[0] - x).hypot(away[1] - y);
            ensure!(
                away < NEAR_PX,
                "{reader}: frame {frame}: ring {ring:?} is {away:.2} px from ({x:.2}, {y:.2})"
            );
        }
    }
    Ok(())
}

fn whole(numbered: &Numbered) -> Vec<u64> {
    (0..u64::from(numbered.n_frames)).collect()
}

fn without_trail() -> MarkedOptions {
    MarkedOptions { trail: 0, ..MarkedOptions::default() }
}

fn folder() -> Result<tempfile::TempDir> {
    Ok(tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?)
}

#[test]
fn picture_k_is_frame_k_with_mark_k_in_h264_and_without_loss() -> Result<()> {
    let folder = folder()?;
    let numbered = Numbered::even(folder.path(), "both.mp4")?;
    let (made, answer) = marked(&numbered, "side.mp4", &without_trail())?;
    ensure!((made.n_pictures, made.per_second) == (300, 25.0), "{made:?}");
    ensure!(made.slower == "1/40 of real time", "{made:?}");
    let expected = whole(&numbered);
    ensure!(answer["source"] == json!(expected), "the film itself: {}", answer["source"]);
    is_in_step(&answer, 0, &expected, &[])?;
    let about = answer["about"].to_string();
    for part in ["NB-001, camera side, frames 0 to 299", "1/40 of real time", "filmgauge 0.1.0"] {
        ensure!(about.contains(part), "{part}: {about}");
    }
    let lossless = MarkedOptions { lossless: true, from: Some(30), to: Some(290), ..without_trail() };
    let (made, answer) = marked(&numbered, "side.mkv", &lossless)?;
    ensure!(made.n_pictures == 261, "{made:?}");
    is_in_step(&answer, 30, &expected[30..=290], &[])
}

/// Frames were left out where this film was made, and its intervals vary: the numbers drawn jump, pictures do not.
#[test]
fn films_of_varying_intervals_and_deep_levels_stay_in_step() -> Result<()> {
    let varying = folder()?;
    let numbered = Numbered::make(varying.path(), "varying.mkv", |frame| {
        0.001 * f64::from(frame) + 0.0003 * f64::from(frame % 3)
    })?;
    let slower = MarkedOptions { slower: Some(20.0), curves: Some(vec![]), ..without_trail() };
    let (made, answer) = marked(&numbered, "side.mkv", &slower)?;
    ensure!(made.slower == "1/20 of real time on average", "{made:?}");
    let drawn: Vec<u64> = (0..300).filter(|number| number % 7 != 3).collect();
    ensure!(
        answer["source"] == json!(drawn) && numbered.n_frames as usize == drawn.len(),
        "{}",
        answer["source"]
    );
    is_in_step(&answer, 0, &drawn, &[])?;
    let deep = folder()?;
    let numbered = Numbered::even(deep.path(), "grey16.mkv")?;
    let (_, answer) = marked(&numbered, "side.mp4", &without_trail())?;
    is_in_step(&answer, 0, &whole(&numbered), &[])
}

#[test]
fn a_film_whose_tail_is_lost_is_marked_to_its_last_frame() -> Result<()> {
    let folder = folder()?;
    let numbered = Numbered::even(folder.path(), "cut.mkv")?;
    ensure!((100..300).contains(&numbered.n_frames), "{}", numbered.n_frames);
    let one = MarkedOptions { threads: Some(1), ..without_trail() };
    let (made, answer) = marked(&numbered, "side.mp4", &one)?;
    ensure!(made.n_pictures == u64::from(numbered.n_frames), "{made:?}");
    is_in_step(&answer, 0, &whole(&numbered), &numbered.damaged)
}

/// The paths of two films of the same dossier, by different threads, hold the same bytes.
#[test]
fn any_number_of_threads_gives_the_same_bytes() -> Result<()> {
    let folder = folder()?;
    let numbered = Numbered::even(folder.path(), "both.mp4")?;
    let dossier = Dossier::read(&numbered.folder)?;
    let film = |name: &str, threads| -> Result<Vec<u8>> {
        let options = MarkedOptions { threads: Some(threads), to: Some(120), ..MarkedOptions::default() };
        let path = folder.path().join(name);
        marked_film(&dossier, &options, Path::new(&path), &Unwatched)?;
        Ok(std::fs::read(path)?)
    };
    ensure!(film("one.mp4", 1)? == film("two.mp4", 2)?, "one and two threads differ");
    Ok(())
}
