//! Figures from sensors: the occupant from channel files alone, and the page of film against channels.

use crate::rehearsal::{Copy, root, run};
use anyhow::{Context, Result, ensure};
use filmgauge_cli::Exit;
use serde_json::Value;
use std::path::{Path, PathBuf};

fn folder() -> String {
    root().join("sample-frames/hatchback/sensors/HB-014.mme").to_string_lossy().into_owned()
}

/// 10 g for 0.3 s from contact on: the strike is at √(2 · 0.6 m / A) with √(2 · 0.6 m · A), closed form, computed. The class filter takes
/// what it spreads to before contact: 0.1 ms.
#[test]
fn a_constant_deceleration_gives_its_closed_form() -> Result<()> {
    let copy = Copy::new()?;
    let mut text = String::from("time_s,ax,ay,yaw\ns,g,g,deg/s\n");
    for sample in 0..16_000_i32 {
        let t = f64::from(sample) * 1e-4 - 0.6;
        let on = t > -5e-5 && t < 0.3;
        let (x, y) = if on { (-10.0, -4.0) } else { (0.0, 0.0) };
        text.push_str(&format!("{t:.4},{x},{y},0\n"));
    }
    copy.put("constant.csv", text)?;
    let file = copy.path("constant.csv").to_string_lossy().into_owned();
    let said = run(&["occupant", &file, "--forward", "ax", "--sideways", "ay", "--yaw", "yaw", "--json"])?;
    let findings: Value = serde_json::from_str(&said.out).with_context(|| said.err.clone())?;
    let value = |name: &str| -> Result<f64> {
        let list = findings.as_array().context("a list")?;
        let found = list.iter().find(|finding| finding["name"] == name).with_context(|| name.to_owned())?;
        found["value"].as_f64().with_context(|| format!("{found:#}"))
    };
    for (name, expected, tolerance) in [
        ("occupant_impact_velocity", 10.848_032, 1e-3),
        ("occupant_impact_velocity_sideways", 4.339_213, 1e-3),
        ("occupant_impact_time", 0.110_619, 2e-4),
        ("head_impact_velocity", 42.061_3 / 3.6, 1e-3),
        ("ridedown_acceleration", 98.0665, 0.5),
    ] {
        let found = value(name)?;
        ensure!((found - expected).abs() < tolerance, "{name}: {found}, {expected} expected");
    }
    Ok(())
}

#[test]
fn the_samples_figures_come_with_limits_and_cautions() -> Result<()> {
    let file = folder();
    let arguments = [
        "occupant",
        &file,
        "--forward",
        "10CVEHCG0000ACXP",
        "--upright",
        "10CVEHCG0000ACZP",
        "--calibration",
        "0.01",
    ];
    let said = run(&arguments)?;
    for part in [
        "occupant_impact_velocity",
        "severity_index",
        "mean_50ms",
        "MASH 2016",
        "from memory",
        "common practice, no source",
        "check the edition in force",
        "They do not certify a device or a vehicle",
    ] {
        ensure!(said.out.contains(part), "{part}: {}{}", said.out, said.err);
    }
    ensure!(said.exit != Exit::CouldNotRun, "{}", said.err);
    Ok(())
}

#[test]
fn what_is_not_clear_is_refused_with_what_to_do() -> Result<()> {
    let file = folder();
    run(&["occupant", &file])?.refused(&["name one with --forward", "10CVEHCG0000ACXP"])?;
    run(&["occupant", &file, "--forward", "10CVEHCG0000ACX"])?
        .refused(&["no channel", "10CVEHCG0000ACXP"])?;
    let forward = ["occupant", &file, "--forward", "10CVEHCG0000ACXP"];
    run(&[&forward[..], &["--yaw", "10CVEHCG0000ACZP"]].concat())?.refused(&["rad/s is needed"])?;
    run(&[&forward[..], &["--contact-u-s", "2"]].concat())?.refused(&["contact"])?;
    run(&["occupant", "no/such.mme"])?.refused(&["no/such.mme"])
}

#[test]
fn film_against_channels_is_one_page_each() -> Result<()> {
    let copy = Copy::new()?;
    let folder = copy.path("");
    let said = run(&[PathBuf::from("crosscheck"), folder.clone()])?;
    for part in ["10CVEHCG0000ACXP on car: ", "gain", "tried sound", "ISO/TS 18571 rating", "look at"] {
        ensure!(said.out.contains(part), "{part}: {}{}", said.out, said.err);
    }
    ensure!(said.exit == Exit::NeedsPerson, "one channel is planted faulty: {}", said.out);
    let said = run(&[PathBuf::from("--json"), PathBuf::from("crosscheck"), folder])?;
    let checks: Value = serde_json::from_str(&said.out)?;
    ensure!(checks[0]["figures"]["grade"].is_string() && checks[0]["explanations"].is_array(), "{checks:#}");
    Ok(())
}

/// Off unless asked for; then labelled, and refused for a channel that the crosscheck suspects.
#[test]
fn fused_motion_is_asked_for_and_labelled() -> Result<()> {
    let copy = Copy::new()?;
    let fused =
        |said: &str| said.lines().any(|line| line.starts_with("contact_speed") && line.contains(" fused "));
    ensure!(!fused(&copy.measure()?.out), "fused figures without being asked for");
    let text = copy.text("dossier.toml")?;
    copy.put("dossier.toml", text.replacen("[test]\n", "[test]\nfused = true\n", 1))?;
    let said = copy.measure()?;
    ensure!(fused(&said.out) && !said.out.contains("is not fused"), "{}", said.out);
    let (text, faulty) = (copy.text("dossier.toml")?, "10FLORRE0000ACXP");
    copy.put("dossier.toml", text.replace("code = \"10CVEHCG0000ACXP\"", &format!("code = \"{faulty}\"")))?;
    let said = copy.measure()?;
    ensure!(said.out.contains("a faulty channel is not fused"), "{}", said.out);
    Ok(())
}

/// Method, band and least error stand on the sheet; other means beside the spline where the dossier asks for them.
#[test]
fn derivatives_name_their_method_and_other_means_are_drawn_beside() -> Result<()> {
    let copy = Copy::new()?;
    copy.measure()?;
    let sheet = copy.text("results/sheet.html")?;
    for part in ["Derivatives of car", "smoothing spline of degree 7", "Lanshammar", "car, film, CFC 60"] {
        ensure!(sheet.contains(part), "{part}");
    }
    ensure!(!sheet.contains("Butterworth"), "a filter that no one asked for");
    let text = copy.text("dossier.toml")?;
    let beside = "[test]\nbeside = [\"butterworth\", \"savitzky_golay\", \"stated_noise\"]\n";
    copy.put("dossier.toml", text.replacen("[test]\n", beside, 1))?;
    let findings = copy.text("results/findings.json")?;
    copy.measure()?;
    let sheet = copy.text("results/sheet.html")?;
    for part in ["film by Butterworth, cut-off", "film by Savitzky-Golay", "film by stated noise", "apart"] {
        ensure!(sheet.contains(part), "{part}");
    }
    ensure!(copy.text("results/findings.json")? == findings, "a curve beside changed a finding");
    copy.put("dossier.toml", text.replacen("[test]\n", "[test]\nbeside = [\"mean\"]\n", 1))?;
    copy.measure()?.refused(&["dossier.toml, line", "mean", "butterworth"])
}

/// What is written as channels is the table of motion.
#[test]
fn motion_from_film_is_written_as_channels() -> Result<()> {
    let copy = Copy::new()?;
    let (folder, channels) = (copy.path(""), copy.path("film"));
    run(&[Path::new("measure"), &folder, Path::new("--channels"), &channels])?;
    let header = std::fs::read_dir(&channels)?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .find(|path| path.extension().is_some_and(|kind| kind == "mme"))
        .context("a test header")?;
    let speed = filmgauge_sensors::read(&header, "10VEHCCG0000VEX0", None)?;
    let text = copy.text("results/motion.csv")?;
    let heads: Vec<&str> = text.lines().next().context("a header")?.split(',').collect();
    let at = |name: &str| heads.iter().position(|head| *head == name).context("a column");
    let (body, value) = (at("body")?, at("vx_m_s")?);
    let car: Vec<f64> = text
        .lines()
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|cells| cells.get(body) == Some(&"car"))
        .filter_map(|cells| cells.get(value)?.parse().ok())
        .collect();
    ensure!(speed.unit == "m/s" && speed.values.len() == car.len(), "{} {}", speed.values.len(), car.len());
    let furthest = speed.values.iter().zip(&car).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    ensure!(furthest < 1e-6, "{furthest}");
    ensure!((speed.step_s - 0.001).abs() < 1e-6, "{}", speed.step_s);
    let codes = filmgauge_sensors::list(&header)?;
    ensure!(codes.iter().any(|code| code == "20VEHCCG0000DSX0"), "{codes:?}");
    Ok(())
}

/// A record of another time and one on a body that no camera follows are named, and the rest goes on.
#[test]
fn records_that_the_film_cannot_meet_are_named_and_the_rest_goes_on() -> Result<()> {
    let copy = Copy::new()?;
    let mut table = String::from("time_s,late\ns,g\n");
    (0..400_i32).for_each(|i| {
        table.push_str(&format!("{:.4},{}\n", 10.0 + f64::from(i) * 1e-4, f64::from(i % 7) * 0.1));
    });
    copy.put("sensors/late.csv", table)?;
    let text = copy.text("dossier.toml")?;
    let body = "[[body]]\nid = \"trailer\"\nmass_kg = 500.0\n\n";
    let channel = |code: &str, file: &str, body: &str| {
        format!(
            "[[channel]]\nfile = \"sensors/{file}\"\ncode = \"{code}\"\naxis = \"x\"\nbody = \"{body}\"\n\n"
        )
    };
    let added = [channel("late", "late.csv", "car"), channel("10FLORRE0000ACXP", "HB-014.mme", "trailer")];
    let at = text.find("[[channel]]").context("channels of the rehearsal")?;
    copy.put("dossier.toml", format!("{}{body}{}{}", &text[..at], added.concat(), &text[at..]))?;
    let said = run(&[PathBuf::from("crosscheck"), copy.path("")])?;
    ensure!(said.exit == Exit::NeedsPerson, "{}{}", said.out, said.err);
    for part in [
        "late on car: not checked",
        "share 0 frames",
        "10FLORRE0000ACXP on trailer: not checked",
        "trailer could not be measured on film",
        "10CVEHCG0000ACXP on car: agrees",
    ] {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    Ok(())
}

/// A second sensor beside the c.g.'s own, read from its record with a gain of 1.06 and a zero of 3 m/s²: the pair is told on the page and
/// in the list, with what the film says, and its steps are listed. A step that the dossier leaves out is not applied, and said.
#[test]
fn sensors_of_one_place_are_held_against_one_another() -> Result<()> {
    let copy = Copy::new()?;
    let own = filmgauge_sensors::read(&copy.path("sensors/HB-014.mme"), "10CVEHCG0000ACXP", None)?;
    let own = filmgauge_sensors::to_si(&own)?;
    let mut table = String::from("time_s,twin\ns,m/s2\n");
    for (index, value) in own.values.iter().enumerate() {
        table.push_str(&format!("{},{}\n", own.time_s(index), 1.06 * value + 3.0));
    }
    copy.put("sensors/twin.csv", table)?;
    let text = copy.text("dossier.toml")?;
    let at = text.find("[[crush]]").context("crush line of the rehearsal")?;
    let twin = "[[channel]]\nfile = \"sensors/twin.csv\"\ncode = \"twin\"\naxis = \"x\"\nbody = \"car\"\nwithout = [\"filter\"]\n\n";
    copy.put("dossier.toml", format!("{}{twin}{}", &text[..at], &text[at..]))?;
    let said = run(&[PathBuf::from("--json"), PathBuf::from("crosscheck"), copy.path("")])?;
    let checks: Value = serde_json::from_str(&said.out).with_context(|| said.err.clone())?;
    let twin = checks.as_array().and_then(|list| list.iter().find(|check| check["channel"] == "twin"));
    let twin = twin.context("the twin's check")?;
    let beside = twin["beside"].as_array().context("its pairs")?;
    let pair = beside.iter().find(|pair| pair["channel"] == "10CVEHCG0000ACXP").context("the pair")?;
    let near = |key: &str, truth: f64| {
        let value = pair[key]["value"].as_f64().unwrap_or(f64::NAN);
        let u = pair[key]["uncertainty"].as_f64().unwrap_or(f64::NAN);
        (value - truth).abs() <= 3.0 * u && u > 0.0
    };
    ensure!(near("gain", 1.06) && near("offset", 3.0) && near("lag_s", 0.0), "{pair:#}");
    let faults: Vec<&str> =
        pair["suspected"].as_array().into_iter().flatten().filter_map(|it| it["fault"].as_str()).collect();
    ensure!(faults.contains(&"gain") && faults.contains(&"offset"), "{faults:?}");
    let steps = twin["steps"].to_string();
    ensure!(
        steps.contains("read in m/s2") && steps.contains("left out, as the dossier says: filter"),
        "{steps}"
    );
    ensure!(!steps.contains("Cfc180"), "{steps}");
    ensure!(twin["zero"]["slope"]["uncertainty"].as_f64().is_some_and(|u| u > 0.0), "{twin:#}");
    let said = run(&[PathBuf::from("crosscheck"), copy.path("")])?;
    for part in ["beside 10CVEHCG0000ACXP: both do not agree", "zero drifts by", "step: for figures: Cfc180"]
    {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    copy.measure()?;
    let sheet = copy.text("results/sheet.html")?;
    ensure!(sheet.contains("beside 10CVEHCG0000ACXP: both do not agree"), "not on the sheet");
    ensure!(sheet.contains("left out, as the dossier says: filter"), "steps are not on the sheet");
    Ok(())
}

/// A body that turns nose up at 0.5 rad/s for 0.3 s while it brakes evenly at 10 g along the path, with what its sensors feel then (rigid-body
/// mechanics, computed): the pitch rate takes gravity and the turn out, and the speed change is 10 g × 0.3 s. The class filter takes what it spreads to before
/// contact: 0.3 ms.
#[test]
fn a_pitch_rate_takes_gravity_and_the_turn_of_the_axes_out() -> Result<()> {
    let copy = Copy::new()?;
    let (g, brake) = (9.806_65, 98.0665);
    let mut table = String::from("time_s,ax,az,pitch\ns,m/s2,m/s2,rad/s\n");
    for sample in 0..16_000_i32 {
        let t = f64::from(sample) * 1e-4 - 0.6;
        let (rate, a) = if t > -5e-5 && t < 0.3 { (0.5, -brake) } else { (0.0, 0.0) };
        let pitch = 0.5 * t.clamp(0.0, 0.3);
        let (fx, fz) = (a * pitch.cos() + g * pitch.sin(), -a * pitch.sin() + g * pitch.cos());
        // ISO 8855: a rate about the axis to the left is nose down.
        table.push_str(&format!("{t:.4},{fx},{},{}\n", fz - g, -rate));
    }
    copy.put("turning.csv", table)?;
    let file = copy.path("turning.csv").to_string_lossy().into_owned();
    let arguments = ["--json", "occupant", &file, "--forward", "ax", "--upright", "az", "--pitch", "pitch"];
    let said = run(&arguments)?;
    let findings: Value = serde_json::from_str(&said.out).with_context(|| said.err.clone())?;
    let list = findings.as_array().context("a list")?;
    let found = list.iter().find(|finding| finding["name"] == "speed_change").context("the speed change")?;
    let value = found["value"].as_f64().with_context(|| format!("{found:#}"))?;
    ensure!((value + brake * 0.3).abs() < 0.04, "{value}, {} expected", -brake * 0.3);
    Ok(())
}

/// Three sensors at one place feel a half sine of 3 : 4 : 12, whose resultant is 13 : the greatest is 130 m/s² (computed). Class 180 takes
/// less than 0.1 % off a half sine of 60 ms.
#[test]
fn three_sensors_at_one_place_give_their_resultant() -> Result<()> {
    let copy = Copy::new()?;
    let mut table = String::from("time_s,rx,ry,rz\ns,m/s2,m/s2,m/s2\n");
    for sample in 0..6_000_i32 {
        let t = f64::from(sample) * 1e-4 - 0.2;
        let phase = (t - 0.02) / 0.06;
        let pulse =
            if (0.0..1.0).contains(&phase) { 10.0 * (std::f64::consts::PI * phase).sin() } else { 0.0 };
        table.push_str(&format!("{t:.4},{},{},{}\n", -3.0 * pulse, 4.0 * pulse, 12.0 * pulse));
    }
    copy.put("sensors/roof.csv", table)?;
    let text = copy.text("dossier.toml")?;
    let at = text.find("[[crush]]").context("crush line of the rehearsal")?;
    let line = |axis: &str| {
        let file = "[[channel]]\nfile = \"sensors/roof.csv\"\n";
        format!("{file}code = \"r{axis}\"\naxis = \"{axis}\"\nbody = \"car\"\nat_m = [0.3, 0.1]\n\n")
    };
    let roof: String = ["x", "y", "z"].map(line).concat();
    copy.put("dossier.toml", format!("{}{roof}{}", &text[..at], &text[at..]))?;
    copy.measure()?;
    let findings: Value = serde_json::from_str(&copy.text("results/findings.json")?)?;
    let of_roof = |finding: &&Value| {
        finding["name"] == "resultant_max" && finding["value"].as_f64().is_some_and(|value| value > 0.0)
    };
    let found = findings.as_array().into_iter().flatten().find(of_roof).context("a resultant")?;
    let value = found["value"].as_f64().context("a number")?;
    ensure!((value - 130.0).abs() < 0.5 && found["unit"] == "m/s2", "{found:#}");
    ensure!(found["uncertainty"].as_f64().is_some_and(|u| u > 0.0), "{found:#}");
    Ok(())
}
