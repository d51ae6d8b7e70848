//! Makes `docs/accuracy.md`: many rehearsals rendered, measured and compared with their truth.

use anyhow::Context;
use filmgauge_proving::Scene;
use filmgauge_tests::accuracy::{Outcome, accuracy_page, rehearsed, scene, summary};
use rayon::prelude::*;
use std::path::{Path, PathBuf};

const FIRST_SEED: u64 = 100;

fn main() -> anyhow::Result<()> {
    let (n_seeds, out) = arguments()?;
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
    std::fs::write(&out, accuracy_page(&summary(&outcomes), FIRST_SEED))
        .with_context(|| format!("{} cannot be written", out.display()))
}

/// `--seeds N --out FILE`.
fn arguments() -> anyhow::Result<(u64, PathBuf)> {
    let (mut n_seeds, mut out) = (24, PathBuf::from("docs/accuracy.md"));
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().with_context(|| format!("{word} needs a value"))?;
        match word.as_str() {
            "--seeds" => n_seeds = value.parse().context("--seeds takes a number")?,
            "--out" => out = value.into(),
            _ => anyhow::bail!("{word} is not known; use --seeds N --out FILE"),
        }
    }
    Ok((n_seeds, out))
}
