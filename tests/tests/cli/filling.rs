//! A dossier as it is filled in: made from films, told what it lacks, given gaps and events by the analyst.

use crate::rehearsal::{Copy, run};
use anyhow::{Context, Result, ensure};
use filmgauge_cli::Exit;
use std::fs;
use std::path::Path;

#[test]
fn a_new_dossier_says_what_it_lacks_and_is_never_made_twice() -> Result<()> {
    let copy = Copy::new()?;
    let (folder, film) = (copy.path("new"), copy.path("footage/side.mkv"));
    let line = [Path::new("new"), &folder, Path::new("--footage"), &film];
    let said = run(&line)?;
    ensure!(said.exit == Exit::Done, "{}", said.err);
    for part in ["Camera side has no film speed", "no time zero", "no reference board", "There is no target"]
    {
        ensure!(said.out.contains(part), "\"{part}\" is missing from {}", said.out);
    }
    let text = fs::read_to_string(folder.join("dossier.toml"))?;
    run(&line)?.refused(&["an existing dossier is never replaced"])?;
    ensure!(fs::read_to_string(folder.join("dossier.toml"))? == text, "the dossier was touched");
    run(&[Path::new("measure"), &folder])?.refused(&["dossier.toml, line", "camera side has no film speed"])
}

#[test]
fn a_camera_without_exposure_cannot_be_measured_yet() -> Result<()> {
    let copy = Copy::new()?;
    copy.edit("exposure_s = 0.0002\n", "")?;
    copy.measure()?.refused(&["camera side has no length of exposure", "Give exposure_s, in seconds"])
}

#[test]
fn marks_in_a_gap_by_hand_are_set_aside_with_its_cause() -> Result<()> {
    let copy = Copy::new()?;
    let text = copy.text("dossier.toml")?;
    let gap = "\n[[gap]]\ncamera = \"side\"\ntarget = \"C2\"\nframes = [20, 29]\ncause = \"hidden\"\n";
    copy.put("dossier.toml", text + gap)?;
    let said = copy.measure()?;
    ensure!(said.exit != Exit::CouldNotRun, "{}", said.err);
    let marks = copy.text("results/marks.csv")?;
    let of_target = |frame: u32| {
        let start = format!("side,C2,{frame},");
        marks.lines().find(|line| line.starts_with(&start)).map(str::to_owned)
    };
    for frame in 20..30 {
        let found = of_target(frame).is_some_and(|line| line.contains("found") || line.contains("inferred"));
        ensure!(!found, "frame {frame} has a mark");
    }
    let gaps = copy.text("results/gaps.csv")?;
    ensure!(gaps.contains("side,C2,20,29,hidden"), "the gap and its cause are not listed: {gaps}");
    let plain = Copy::new()?;
    plain.measure()?;
    let (width, before) = (band(&copy, 24)?, band(&plain, 24)?);
    ensure!(width > before, "the band in the gap is {width} m, without it {before} m");
    for frame in [19, 30] {
        let line = of_target(frame).with_context(|| format!("frame {frame} has no mark"))?;
        ensure!(line.contains("found"), "{line}");
    }
    Ok(())
}

/// Standard uncertainty of the car's place along the path in a frame, m.
fn band(copy: &Copy, frame: usize) -> Result<f64> {
    let motion = copy.text("results/motion.csv")?;
    let column = motion.lines().next().and_then(|head| head.split(',').position(|name| name == "u_x_m"));
    let row = motion.lines().filter(|line| line.contains(",side,car,")).nth(frame);
    let cell = row.context("no row of the car")?.split(',').nth(column.context("no column u_x_m")?);
    Ok(cell.context("no cell")?.parse()?)
}

#[test]
fn a_gap_that_makes_no_sense_is_refused() -> Result<()> {
    let cases = [
        ("target = \"C2\"\nframes = [29, 20]", "ends at frame 20, before it starts at 29"),
        ("target = \"C77\"\nframes = [20, 29]", "no target \"C77\""),
        ("target = \"C2\"\nframes = [20, 29]\ncause = \"before_start\"", "no cause that a person can give"),
    ];
    for (lines, part) in cases {
        let copy = Copy::new()?;
        let text = copy.text("dossier.toml")?;
        copy.put("dossier.toml", format!("{text}\n[[gap]]\ncamera = \"side\"\n{lines}\n"))?;
        copy.measure()?.refused(&[part])?;
    }
    Ok(())
}

#[test]
fn events_stand_on_the_sheet_and_one_beyond_the_film_is_told() -> Result<()> {
    let copy = Copy::new()?;
    let text = copy.text("dossier.toml")?;
    let event =
        |id: &str, frame: u32| format!("\n[[event]]\nid = \"{id}\"\ncamera = \"side\"\nframe = {frame}\n");
    copy.put("dossier.toml", text + &event("door opens", 70) + &event("too late", 5000))?;
    let said = copy.measure()?;
    said.asks(&["too late", "beyond the end of the film"])?;
    let sheet = copy.text("results/sheet.html")?;
    ensure!(sheet.contains("door opens") && sheet.contains("by hand"), "the event is not on the sheet");
    let events = copy.text("results/events.csv")?;
    let line = |id: &str| events.lines().find(|line| line.starts_with(id)).map(str::to_owned);
    let figures = |line: &str| -> Vec<f64> {
        line.rsplit("side,").next().unwrap_or("").split(',').filter_map(|cell| cell.parse().ok()).collect()
    };
    let named = figures(&line("door opens,side,70,").context("no row for the event by hand")?);
    // 1000 frames/s: 1 ms / √12, with the doubt of time zero.
    ensure!(named[2] >= 0.001 / 12.0_f64.sqrt() && named[2] < 0.001, "{named:?}");
    let found = line("contact,side,").with_context(|| format!("no row of contact in: {events}"))?;
    ensure!(found.contains(",found,") && figures(&found)[2] > 0.0, "{found}");
    ensure!(line("too late").is_none(), "{events}");
    Ok(())
}
