//! Makes `docs/accuracy.md`, section by section: rehearsals rendered, measured and compared with their truth.

use anyhow::Context;
use filmgauge_proving::Scene;
use filmgauge_tests::accuracy::{
    Outcome, SECTIONS, clocks_section, locate, put_section, rehearsed, scene, summary, tests_section, texture,
};
use rayon::prelude::*;
use std::path::{Path, PathBuf};

const FIRST_SEED: u64 = 100;
/// Rehearsals with simulated marks for each rendered one.
const FINDINGS_FOR_EACH: u64 = 10;
/// Rehearsals of each clock.
const CLOCK_SEEDS: u64 = 100;
/// Noises of each of 20 painted pairs of a texture.
const TEXTURE_NOISES: u64 = 20;
/// Painted frames in the tables on finding.
const FINDING_FRAMES: u64 = 60;
/// Made-up cameras of each kind in the table on lenses.
const LENS_REHEARSALS: u64 = 600;

/// Rehearsals of each line on smooth motion.
const MOTION_DRAWS: u64 = 60;

/// Rehearsals of each kind of sensor fault; sound channels four times as many.
const CROSSCHECK_EACH: u64 = 60;

/// Draws of each line on planes, cameras and space.
const GEOMETRY_DRAWS: u64 = 400;

/// What was asked for.
struct Wanted {
    sections: Vec<String>,
    seeds: u64,
    out: PathBuf,
}

/// Light films of each kind in the table on following.
const N_FILMS: u64 = 12;

fn main() -> anyhow::Result<()> {
    let wanted = arguments()?;
    for section in &wanted.sections {
        let text = match section.as_str() {
            "tests" => whole_tests(wanted.seeds)?,
            "findings" => filmgauge_tests::accuracy::findings::page(FINDINGS_FOR_EACH * wanted.seeds)?,
            "clocks" => clocks_section(CLOCK_SEEDS),
            "targets" => locate::page(locate::Effort::default())?,
            "texture" => texture::page(TEXTURE_NOISES)?,
            "finding" => filmgauge_tests::accuracy::spot::page(FINDING_FRAMES)?,
            "following" => filmgauge_tests::accuracy::follow::page(N_FILMS)?,
            "lens" => filmgauge_tests::accuracy::lens::page(LENS_REHEARSALS)?,
            "geometry" => filmgauge_tests::accuracy::geometry::page(GEOMETRY_DRAWS)?,
            "motion" => filmgauge_tests::accuracy::motion::page(MOTION_DRAWS)?,
            "crosscheck" => filmgauge_tests::accuracy::crosscheck::page(CROSSCHECK_EACH)?,
            _ => continue,
        };
        put_section(&wanted.out, section, &text)?;
    }
    Ok(())
}

/// Whole tests, rendered, measured and compared.
fn whole_tests(n_seeds: u64) -> anyhow::Result<String> {
    let sample = Scene::read(Path::new("sample-frames/hatchback.toml"))?;
    let outcomes = (0..n_seeds)
        .into_par_iter()
        .map(|index| {
            let seed = FIRST_SEED + index;
            let folder = tempfile::tempdir().context("a scratch folder is needed")?;
            let (_, outcome) = rehearsed(scene(&sample, seed), &folder.path().join("dossier"))
                .with_context(|| format!("rehearsal of seed {seed}"))?;
            Ok(outcome)
        })
        .collect::<anyhow::Result<Vec<Outcome>>>()?;
    Ok(tests_section(&summary(&outcomes), FIRST_SEED))
}

/// `--section NAME --seeds N --out FILE`; all sections when none is named.
fn arguments() -> anyhow::Result<Wanted> {
    let mut wanted = Wanted { sections: Vec::new(), seeds: 24, out: PathBuf::from("docs/accuracy.md") };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().with_context(|| format!("{word} needs a value"))?;
        match word.as_str() {
            "--section" => wanted.sections.push(value),
            "--seeds" => wanted.seeds = value.parse().context("--seeds takes a number")?,
            "--out" => wanted.out = value.into(),
            _ => anyhow::bail!("{word} is not known; use --section NAME --seeds N --out FILE"),
        }
    }
    if wanted.sections.is_empty() {
        wanted.sections = SECTIONS.map(str::to_owned).to_vec();
    }
    Ok(wanted)
}
