//! The form of `dossier.toml`: a small example parses, and the published schema is the one that the program reads.

use crate::rehearsal::root;
use anyhow::{Context, Result, ensure};
use filmgauge_dossier::{Dossier, document};
use std::fs;
use std::path::PathBuf;

const EXAMPLE: &str = r#"
schema = 1

[test]
id = "HB-014"
title = "Hatchback into a parked sweeper with a foam cushion"
axes = "iso8855"
units = "si"

[[camera]]
id = "side"
footage = "footage/side.mkv"
speed = { frames_per_s = 1000.0, source = "camera record", relative_uncertainty = 1e-5 }
exposure_s = 0.0002
zero = { by = "flash" }
board = { from_px = [412.1, 655.0], to_px = [1203.4, 651.2], length_m = 1.5, uncertainty_m = 0.0005, distance_m = 12.0 }

[[target]]
camera = "side"
id = "C1"
kind = "quadrant"
body = "car"
start = { frame = 0, px = [233.0, 410.5] }
radius_px = 11.0
plane_offset_m = 0.82

[[body]]
id = "car"
mass_kg = 1180.0
cg_from = { target = "C1", m = [0.42, -0.11] }

[[channel]]
file = "sensors/HB-014.mme"
code = "10CVEHCG0000ACXP"
body = "car"
at_m = [0.0, 0.0]

[[channel]]
file = "sensors/deck.csv"
code = "deck_ax_g"
axis = "x"
unit = "g"
body = "truck"
at_m = [-1.2, 0.4]

[[crush]]
id = "front"
target = "N1"
body = "car"
"#;

#[test]
fn the_example_parses() -> Result<()> {
    let dossier = Dossier::parse(PathBuf::from("."), "dossier.toml", EXAMPLE.to_owned())?;
    let document = dossier.document;
    ensure!(document.camera.len() == 1 && document.target.len() == 1 && document.body.len() == 1);
    ensure!(document.channel.len() == 2 && document.crush.len() == 1);
    ensure!(matches!(document.camera[0].zero, Some(document::ZeroEntry::Flash { region_px: None, .. })));
    ensure!(document.channel[1].axis == Some(document::AxisEntry::X));
    Ok(())
}

#[test]
fn the_published_schemas_are_the_ones_that_are_read_and_written() -> Result<()> {
    published("docs/dossier.schema.json", &document::json_schema())?;
    published("docs/results.schema.json", &filmgauge_report::results_schema())
}

/// `FILMGAUGE_UPDATE=1` writes the file instead.
fn published(name: &str, schema: &serde_json::Value) -> Result<()> {
    let path = root().join(name);
    let made = format!("{schema:#}\n");
    if std::env::var_os("FILMGAUGE_UPDATE").is_some_and(|value| value == "1") {
        fs::write(&path, &made)?;
    }
    let published = fs::read_to_string(&path).context(name.to_owned())?;
    ensure!(
        published == made,
        "{name} is not the form in use; run this test with FILMGAUGE_UPDATE=1 and look at what changed"
    );
    Ok(())
}
