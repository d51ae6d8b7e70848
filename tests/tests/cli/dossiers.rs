//! Dossiers that cannot be used: each is refused with the line to mend and what to do there.

use crate::rehearsal::Copy;
use anyhow::{Context, Result};

/// Replaces `old` by `new`; the message must name the line on which `marker` then stands, and hold `parts`.
fn refused(old: &str, new: &str, marker: &str, parts: &[&str]) -> Result<()> {
    let copy = Copy::new()?;
    copy.edit(old, new)?;
    let text = copy.text("dossier.toml")?;
    let line = text.lines().position(|line| line.contains(marker)).context("marker")? + 1;
    let place = format!("dossier.toml, line {line}: ");
    let said = copy.measure()?;
    said.refused(&[&[place.as_str()], parts].concat()).with_context(|| format!("{old} -> {new}"))
}

#[test]
fn an_unknown_key_is_never_ignored() -> Result<()> {
    let parts = ["unknown field `exposre_s`", "Remove the key or mend its spelling", "docs/formats.md"];
    refused("exposure_s = 0.0002", "exposure_s = 0.0002\nexposre_s = 0.0002", "exposre_s", &parts)
}

#[test]
fn a_missing_key_is_named() -> Result<()> {
    refused("length_m = 2.0, ", "", "board = {", &["missing field `length_m`", "Add the key"])
}

#[test]
fn a_place_of_three_numbers_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    let text = copy.text("dossier.toml")?;
    let from = text.split("from_px = [").nth(1).and_then(|rest| rest.split(']').next());
    let from = from.context("board of the rehearsal")?.to_owned();
    let parts = ["a list of 3 items stands where 2 belong", "Take out what is too many"];
    refused(&format!("[{from}]"), &format!("[{from}, 7.0]"), "board = {", &parts)
}

#[test]
fn another_schema_is_refused() -> Result<()> {
    let parts = ["schema 9 is not known", "This version reads schema 1"];
    refused("schema = 1", "schema = 9", "schema = 9", &parts)
}

#[test]
fn text_that_is_no_toml_is_refused() -> Result<()> {
    refused("[[camera]]", "[[camera", "[[camera", &["Mend the line"])
}

#[test]
fn a_board_without_length_is_refused() -> Result<()> {
    for length in ["0.0", "-2.0", "nan", "inf"] {
        let new = format!("length_m = {length}");
        refused("length_m = 2.0", &new, &new, &["length_m = ", "Give a number from 0.001"])?;
    }
    Ok(())
}

#[test]
fn a_board_whose_ends_coincide_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    let text = copy.text("dossier.toml")?;
    let from = text.split("from_px = ").nth(1).and_then(|rest| rest.split(", to_px").next());
    let from = from.context("board of the rehearsal")?;
    let to = text.split("to_px = ").nth(1).and_then(|rest| rest.split(", uncertainty_px").next());
    copy.edit(&format!("to_px = {}", to.context("board of the rehearsal")?), &format!("to_px = {from}"))?;
    copy.measure()?.refused(&["camera side: ", "board"])
}

#[test]
fn a_target_outside_the_picture_is_refused() -> Result<()> {
    let new = "start = { frame = 0, px = [5000.0, 20.0] }\n#";
    let parts = ["target C1", "camera side", "outside the picture of 1280 x 448 px", "Give a place inside"];
    refused("start = {", new, "5000.0", &parts)
}

#[test]
fn a_target_left_of_the_picture_is_refused() -> Result<()> {
    let new = "start = { frame = 0, px = [-30.0, 20.0] }\n#";
    refused("start = {", new, "-30.0", &["px = -30 cannot be used", "Give a number from -0.5"])
}

#[test]
fn names_that_do_not_exist_are_refused_with_those_that_do() -> Result<()> {
    refused(
        "body = \"car\"",
        "body = \"cart\"",
        "\"cart\"",
        &["does not exist", "Add a [[body]]", "there are: car, truck"],
    )?;
    let parts = ["names camera \"sied\"", "which does not exist", "there are: side"];
    refused("camera = \"side\"", "camera = \"sied\"", "\"sied\"", &parts)?;
    let climb = ["names target C9", "which does not exist", "there are: C1"];
    refused("climb_point = \"C4\"", "climb_point = \"C9\"", "\"C9\"", &climb)
}

#[test]
fn a_missing_lens_file_is_refused() -> Result<()> {
    let parts = ["lens file lenses/lost.toml cannot be read", "Put the lens file there"];
    refused("lenses/side.toml", "lenses/lost.toml", "lost.toml", &parts)
}

#[test]
fn a_missing_channel_file_is_refused() -> Result<()> {
    let parts = ["channel file sensors/lost.mme does not exist", "Put the file there"];
    refused("sensors/HB-014.mme", "sensors/lost.mme", "lost.mme", &parts)
}

#[test]
fn a_dossier_that_is_not_utf8_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    let mut bytes = copy.text("dossier.toml")?.into_bytes();
    bytes.splice(0..0, *b"# caf\xe9\n");
    copy.put("dossier.toml", &bytes)?;
    copy.measure()?.refused(&["dossier.toml, line 1: the text is not UTF-8", "Save the file as UTF-8"])
}

#[test]
fn a_missing_dossier_is_refused() -> Result<()> {
    let copy = Copy::new()?;
    std::fs::remove_file(copy.path("dossier.toml"))?;
    copy.measure()?.refused(&["dossier.toml", "Check that the file exists"])
}

#[test]
fn a_start_beside_its_target_asks_for_a_person() -> Result<()> {
    let copy = Copy::new()?;
    copy.edit("start = {", "start = { frame = 0, px = [640.0, 440.0] }\n#")?;
    let said = copy.measure()?;
    said.asks(&[
        "needs a person",
        "camera side, target C1",
        "never found: ",
        "in frame 0",
        "clear of the edge",
    ])?;
    said.asks(&["Correct its start frame, place and radius in the dossier"])
}
