//! The verbs at work: help, survey, spot, measure and rehearse, in words and as JSON.

use crate::rehearsal::{Copy, film, rehearsal, root, run};
use anyhow::{Context, Result, ensure};
use filmgauge_cli::Exit;
use filmgauge_proving::{BodyName, Scene};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

#[test]
fn help_and_version_are_no_failures() -> Result<()> {
    for (arguments, part) in [
        (vec!["--help"], "survey"),
        (vec!["--version"], concat!("filmgauge ", env!("CARGO_PKG_VERSION"))),
        (vec!["survey", "--help"], "footage"),
        (vec!["spot", "--help"], "Frame number, counted from 0"),
        (vec!["lens", "--help"], "Side of a square with its unit"),
        (vec!["measure", "--help"], "The results do not depend on it"),
        (vec!["rehearse", "--help"], "must be new or empty"),
    ] {
        let said = run(&arguments)?;
        ensure!(said.exit == Exit::Done && said.exit.code() == 0, "{arguments:?}: {}", said.err);
        ensure!(said.out.contains(part) && said.err.is_empty(), "{arguments:?}: {}{}", said.out, said.err);
    }
    Ok(())
}

#[test]
fn a_command_line_that_makes_no_sense_is_refused() -> Result<()> {
    run(&["polish"])?.refused(&["polish", "--help"])?;
    run::<&str>(&[])?.refused(&["Usage"])?;
    run(&["measure"])?.refused(&["<DOSSIER>"])?;
    run(&["measure", "x", "--threads", "many"])?.refused(&["--threads", "many"])?;
    run(&["measure", "no/such/folder"])?.refused(&["no/such/folder", "Check that the file exists"])
}

fn json(said: &crate::rehearsal::Said) -> Result<Value> {
    serde_json::from_str(&said.out).with_context(|| format!("not JSON: {}{}", said.out, said.err))
}

#[test]
fn survey_counts_frames_and_finds_no_fault() -> Result<()> {
    let film = film()?;
    let said = run(&[Path::new("survey"), &film])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    for part in ["frames         110", "1280 x 448 px, 8 bit", "faults         none"] {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    let pages = json(&run(&[Path::new("--json"), Path::new("survey"), &film])?)?;
    ensure!(pages[0]["frames"] == 110 && pages[0]["faults"] == Value::Array(Vec::new()), "{pages:#}");
    Ok(())
}

#[test]
fn spot_finds_the_targets_of_the_first_frame() -> Result<()> {
    let film = film()?;
    let frame_0 = ["--frame", "0", "--json", "--kinds", "quadrant"].map(PathBuf::from);
    let said = run(&[&[PathBuf::from("spot"), film.clone()], frame_0.as_slice()].concat())?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    let spots = json(&said)?;
    let spots = spots.as_array().context("a list")?;
    ensure!(spots.len() >= 10, "{} targets", spots.len());
    for spot in spots {
        ensure!(spot["kind"] == "quadrant" && spot["sx_px"].as_f64().is_some_and(|u| u > 0.0), "{spot:#}");
    }
    let words = run(&[Path::new("spot"), &film])?;
    // One line for each, between the heading and the note on ±. Wheels are discs: whether they are targets, a person says.
    let of_kind = |kind: &str| words.out.lines().filter(|line| line.starts_with(kind)).count();
    ensure!(of_kind("quadrant") == spots.len() && of_kind("disc") <= 6, "{}", words.out);
    ensure!(of_kind("ring") + of_kind("cross") == 0, "{}", words.out);
    ensure!(words.out.lines().count() == spots.len() + of_kind("disc") + 2, "{}", words.out);
    Ok(())
}

/// Text of a layout: the targets of the sample's car, which stand in one plane.
fn car_layout(head: &str) -> Result<String> {
    let scene = Scene::read(&root().join("sample-frames/hatchback.toml"))?;
    let of_car =
        scene.targets.iter().filter(|target| target.camera == "side" && target.body == BodyName::Car);
    let tables = of_car.map(|target| {
        let [x, z] = target.at_m;
        format!(
            "\n[[target]]\nid = \"{}\"\nkind = \"{}\"\nm = [{x:?}, {z:?}]\n",
            target.id,
            target.kind.word()
        )
    });
    Ok(format!("{head}\n{}", tables.collect::<String>()))
}

/// Where the dossier of the rehearsal starts each target in frame 0.
fn starts() -> Result<Vec<(String, [f64; 2])>> {
    let dossier: toml::Table = fs::read_to_string(rehearsal()?.join("dossier.toml"))?.parse()?;
    let targets = dossier.get("target").and_then(toml::Value::as_array).context("targets")?;
    let start = |target: &toml::Value| {
        let px = target.get("start").filter(|start| start["frame"].as_integer() == Some(0))?.get("px")?;
        let id = target.get("id")?.as_str()?.to_owned();
        Some((id, [px.get(0)?.as_float()?, px.get(1)?.as_float()?]))
    };
    Ok(targets.iter().filter_map(start).collect())
}

#[test]
fn spot_suggests_which_surveyed_target_each_find_is() -> Result<()> {
    let film = film()?;
    let folder = tempfile::tempdir()?;
    let layout = folder.path().join("car.toml");
    let with = |head: &str, more: &[&str]| {
        fs::write(&layout, car_layout(head)?)?;
        let words = ["spot", "--frame", "0", "--layout"].map(PathBuf::from);
        let more: Vec<PathBuf> = more.iter().map(PathBuf::from).collect();
        run(&[words.as_slice(), &[layout.clone(), film.clone()], &more].concat())
    };
    let square_on = "model = \"similarity\"\nx_runs = \"right\"\nmodel_uncertainty_px = 2.0";
    let said = with(square_on, &["--json"])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    let spots = json(&said)?;
    let named: Vec<&Value> =
        spots.as_array().context("a list")?.iter().filter(|spot| spot["target"].is_string()).collect();
    let starts = starts()?;
    for spot in &named {
        let id = spot["target"].as_str().unwrap_or_default();
        let (_, [x, y]) =
            starts.iter().find(|(start, _)| start == id).with_context(|| format!("{id} starts later"))?;
        let away = (spot["x_px"].as_f64().unwrap_or(1e9) - x).hypot(spot["y_px"].as_f64().unwrap_or(1e9) - y);
        ensure!(away < 5.0, "{id} lies {away:.1} px off: {spot:#}");
    }
    ensure!(named.len() >= 4, "{} named: {spots:#}", named.len());
    let words = with(square_on, &[])?;
    ensure!(
        words.out.contains("of 5 surveyed targets seen") && words.out.contains("confirm them"),
        "{}",
        words.out
    );

    let wrong = with("x_runs = \"left\"", &[])?;
    ensure!(wrong.exit == Exit::NeedsPerson && wrong.out.contains("no names: "), "{}", wrong.out);
    let wrong = with("x_runs = \"left\"", &["--json"])?;
    let spots = json(&wrong)?;
    ensure!(spots[0]["target"].is_null() && spots[0]["target_reason"].is_string(), "{spots:#}");
    with("x_runs = \"up\"", &[])?.refused(&["car.toml, line 1", "correct the layout file"])?;
    fs::remove_file(&layout)?;
    let gone = ["spot", "--layout"].map(PathBuf::from);
    run(&[gone.as_slice(), &[layout, film.clone()]].concat())?
        .refused(&["car.toml", "Check that the file exists"])
}

#[test]
fn spot_says_which_frames_and_radii_there_are() -> Result<()> {
    let film = film()?.display().to_string();
    run(&["spot", &film, "--frame", "5000"])?
        .refused(&["ends after 110 frames", "Ask for an earlier one"])?;
    run(&["spot", &film, "--radius-px", "40..10"])?.refused(&["radius", "change"])?;
    run(&["spot", &film, "--radius-px", "40"])?.refused(&["write it as 6..80"])?;
    run(&["spot", &film, "--kinds", "star"])?.refused(&["star", "quadrant"])
}

#[test]
fn results_are_the_same_bytes_for_any_number_of_threads() -> Result<()> {
    let copy = Copy::new()?;
    let before = names(&copy.path("."))?;
    let mut first: Option<BTreeMap<String, Vec<u8>>> = None;
    let out = tempfile::tempdir()?;
    for threads in ["1", "2", "5"] {
        let folder = out.path().join(threads);
        let arguments = ["measure", "--threads", threads, "--out"].map(PathBuf::from);
        let said = run(&[arguments.as_slice(), &[folder.clone(), copy.path("dossier.toml")]].concat())?;
        ensure!(said.exit != Exit::CouldNotRun, "{}", said.err);
        let files = files(&folder)?;
        ensure!(files.len() == 27, "{:?}", files.keys());
        let stated = first.get_or_insert_with(|| files.clone());
        for (name, bytes) in &files {
            ensure!(stated.get(name) == Some(bytes), "{name} differs between 1 and {threads} threads");
        }
    }
    ensure!(names(&copy.path("."))? == before, "measuring elsewhere left something in the dossier");
    Ok(())
}

#[test]
fn measure_prints_findings_and_notices_as_json() -> Result<()> {
    let copy = Copy::new()?;
    let said = run(&[Path::new("measure"), &copy.path("."), Path::new("--json")])?;
    ensure!(said.exit != Exit::CouldNotRun, "{}", said.err);
    let printed = json(&said)?;
    let findings = printed["findings"].as_array().context("a list")?;
    let speed =
        findings.iter().find(|finding| finding["name"] == "contact_speed").context("contact_speed")?;
    ensure!(speed["unit"] == "m/s" && speed["uncertainty"].as_f64().is_some_and(|u| u > 0.0), "{speed:#}");
    let written: Value = serde_json::from_str(&copy.text("results/findings.json")?)?;
    ensure!(written == printed["findings"], "what is printed is what is written");
    ensure!(printed["notices"].is_array(), "notices stand beside the findings");
    Ok(())
}

#[test]
fn a_test_without_faults_ends_with_0() -> Result<()> {
    let copy = Copy::of(&crate::rehearsal::root().join("sample-frames/hatchback"))?;
    // The channel with the planted fault is left out.
    copy.edit("code = \"10FLORRE0000ACXP\"", "code = \"10CVEHCG0000ACXP\"")?;
    copy.edit("at_m = [-1.1, -0.25]", "at_m = [0.0, 0.0]")?;
    let said = copy.measure()?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    Ok(())
}

#[test]
fn rehearse_never_writes_over_anything() -> Result<()> {
    let scene = crate::rehearsal::root().join("sample-frames/hatchback.toml");
    let copy = Copy::new()?;
    let said = run(&[Path::new("rehearse"), &scene, Path::new("--out"), &copy.path(".")])?;
    said.refused(&["is not empty", "choose a new folder"])?;
    run(&["rehearse", "no-such-scene.toml", "--out", "new"])?.refused(&["no-such-scene.toml"])
}

fn files(folder: &Path) -> Result<BTreeMap<String, Vec<u8>>> {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        files.insert(entry.file_name().to_string_lossy().into_owned(), fs::read(entry.path())?);
    }
    Ok(files)
}

/// Names in the folder and in its folders.
fn names(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            names.extend(self::names(&path)?);
        }
        names.push(path);
    }
    names.sort();
    Ok(names)
}
