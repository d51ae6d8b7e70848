//! Footage that is missing, cut off or no footage: refused, or measured with the fault named; never silent.

use crate::rehearsal::{Copy, Said, run};
use anyhow::{Result, ensure};
use filmgauge_cli::Exit;
use filmgauge_footage::{Encoding, Writer};
use filmgauge_quantities::GreyImage;
use std::fs;
use std::path::Path;

const FILM: &str = "footage/side.mkv";

fn survey(path: &Path) -> Result<Said> {
    run(&[Path::new("survey"), path])
}

#[test]
fn missing_footage_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    fs::remove_file(copy.path(FILM))?;
    let said = copy.measure()?;
    said.refused(&["camera side: ", "side.mkv", "no such footage; check the name"])?;
    ensure!(said.err.matches("no such footage").count() == 1, "said twice: {}", said.err);
    survey(&copy.path(FILM))?.refused(&["side.mkv", "no such footage; check the name"])
}

#[test]
fn empty_footage_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    copy.put(FILM, b"")?;
    copy.measure()?.refused(&["camera side: ", "side.mkv", "the file is empty; copy it"])?;
    survey(&copy.path(FILM))?.refused(&["side.mkv", "the file is empty; copy it"])
}

#[test]
fn text_is_no_footage() -> Result<()> {
    let copy = Copy::new()?;
    copy.put(FILM, "this is a letter, not a film\n".repeat(500))?;
    copy.measure()?.refused(&["camera side: ", "side.mkv", "check that this is the camera's file"])?;
    survey(&copy.path(FILM))?.refused(&["side.mkv", "check that this is the camera's file"])
}

#[test]
fn a_film_cut_off_is_never_measured_in_silence() -> Result<()> {
    let copy = Copy::new()?;
    let bytes = fs::read(copy.path(FILM))?;
    for share in [60, 5] {
        copy.put(FILM, &bytes[..bytes.len() * share / 100])?;
        for said in [copy.measure()?, survey(&copy.path(FILM))?] {
            let all = format!("{}{}", said.out, said.err);
            ensure!(said.exit != Exit::Done, "{share} %: a cut film passed: {all}");
            let named = ["damaged", "ends early", "shorter", "claims", "cut off"];
            ensure!(named.iter().any(|word| all.contains(word)), "{share} %: no fault is named: {all}");
            ensure!(all.to_lowercase().contains("copy the f"), "{share} %: no remedy: {all}");
        }
    }
    Ok(())
}

#[test]
fn the_head_of_a_film_alone_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    let bytes = fs::read(copy.path(FILM))?;
    copy.put(FILM, &bytes[..40])?;
    copy.measure()?.refused(&["camera side: ", "side.mkv"])
}

#[test]
fn stills_of_differing_size_are_refused() -> Result<()> {
    let copy = Copy::new()?;
    let (stills, other) = (copy.path("footage/stills"), copy.path("footage/other"));
    write_stills(&stills, 64, 48)?;
    write_stills(&other, 60, 48)?;
    fs::copy(other.join("000002.png"), stills.join("000002.png"))?;
    let parts = ["000002.png", "60 x 48", "64 x 48", "split the footage there"];
    survey(&stills.join("*.png"))?.refused(&parts)?;
    // Inside a dossier the camera is named, too.
    write_stills(&copy.path("footage/wide"), 1280, 448)?;
    fs::copy(other.join("000001.png"), copy.path("footage/wide/000001.png"))?;
    copy.edit(FILM, "footage/wide/*.png")?;
    copy.measure()?.refused(&["camera side: ", "000001.png", "60 x 48", "split the footage there"])
}

#[test]
fn a_still_left_out_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    let stills = copy.path("footage/stills");
    write_stills(&stills, 64, 48)?;
    fs::remove_file(stills.join("000001.png"))?;
    survey(&stills.join("*.png"))?.refused(&["still number 1 is missing after", "000000.png", "restore it"])
}

/// Three grey stills.
fn write_stills(folder: &Path, width: usize, height: usize) -> Result<()> {
    let mut writer = Writer::create(folder, width, height, 8, Encoding::PngSequence, 30)?;
    for level in [40_u8, 80, 120] {
        writer.put(&GreyImage::from_u8(width, height, vec![level; width * height])?.view())?;
    }
    writer.finish()?;
    Ok(())
}
