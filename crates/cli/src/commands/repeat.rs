//! `repeat`: measures a dossier again with moved starts, or with other operators' hand marks, and tells the scatter.

use super::repeat_page::{Group, print};
use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::{Context, bail, ensure};
use filmgauge_dossier::{Dossier, RunOptions};
use filmgauge_results::Results;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Measurements with moved starts when nothing else is asked for.
const USUAL_TIMES: u32 = 8;

/// What is repeated.
pub(super) struct RepeatPlan<'a> {
    /// Greatest move of a start along each axis, px.
    pub(super) perturb_px: f64,
    /// Measurements with moved starts.
    pub(super) times: Option<u32>,
    /// Hand marks, one file an operator.
    pub(super) picks: &'a [PathBuf],
    /// Seed of the moves.
    pub(super) seed: u64,
}

pub(super) fn repeat(
    path: &Path,
    plan: &RepeatPlan<'_>,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let dossier = Dossier::read(path)?;
    let times = plan.times.unwrap_or(if plan.picks.is_empty() { USUAL_TIMES } else { 0 });
    ensure!(
        plan.perturb_px.is_finite() && (0.0..=20.0).contains(&plan.perturb_px),
        "--perturb {} cannot be used; give 0 to 20 px",
        plan.perturb_px
    );
    ensure!(times != 1, "one measurement has no scatter; give --times 2 or more");
    ensure!(times > 0 || !plan.picks.is_empty(), "nothing to repeat; give --times 2 or more, or --picks");
    let mut groups = Vec::new();
    if times > 0 {
        let mut draw = Draw(plan.seed);
        let mut group = Group::new(format!(
            "{times} measurements with every start moved by up to {} px, seed {}",
            plan.perturb_px, plan.seed
        ));
        for _ in 0..times {
            group.add(&measured(&moved(&dossier, plan.perturb_px, &mut draw), &RunOptions::default())?);
        }
        groups.push(group);
    }
    if !plan.picks.is_empty() {
        let mut group = Group::new(format!("hand marks of {} operators", plan.picks.len()));
        for file in plan.picks {
            let picks = BTreeMap::from([(camera_of(&dossier, file)?, file.clone())]);
            group.add(&measured(&dossier, &RunOptions { picks, ..RunOptions::default() })?);
        }
        groups.push(group);
    }
    if json {
        let said: Vec<_> = groups.iter().map(Group::as_json).collect();
        writeln!(out, "{}", serde_json::to_string_pretty(&said)?)?;
    } else {
        groups.iter().try_for_each(|group| print(group, out))?;
    }
    Ok(Exit::Done)
}

fn measured(dossier: &Dossier, options: &RunOptions) -> anyhow::Result<Results> {
    let terminal = Terminal::new();
    let results = filmgauge_dossier::measure(dossier, options, &terminal);
    terminal.clear();
    Ok(results?)
}

/// The dossier with every start moved.
fn moved(dossier: &Dossier, most_px: f64, draw: &mut Draw) -> Dossier {
    let mut moved = dossier.clone();
    for target in &mut moved.document.target {
        for value in &mut target.start.px {
            // A start may not leave the picture on its account.
            *value = (*value + most_px * draw.next()).max(0.0);
        }
    }
    moved
}

/// The camera that a file of hand marks belongs to: the one it is named after, or the only one.
fn camera_of(dossier: &Dossier, file: &Path) -> anyhow::Result<String> {
    let stem = file.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let ids: Vec<&str> = dossier.document.camera.iter().map(|camera| camera.id.as_str()).collect();
    // The part before the first point, as in side.second.csv.
    let begin = stem.split('.').next().unwrap_or_default();
    match ids[..] {
        _ if ids.contains(&stem.as_str()) => Ok(stem),
        _ if ids.contains(&begin) => Ok(begin.to_owned()),
        [only] => Ok(only.to_owned()),
        [] => bail!("the dossier has no camera"),
        _ => Err(anyhow::anyhow!("name the file after one of the cameras: {}", ids.join(", ")))
            .with_context(|| format!("{}: which camera's marks are these?", file.display())),
    }
}

/// Even draws from -1 to 1: the mixing function of Steele, Lea & Flood 2014 ("Fast splittable pseudorandom number
/// generators"), so that a seed means the same moves on every machine.
struct Draw(u64);

impl Draw {
    #[expect(clippy::cast_precision_loss, reason = "53 bits are kept, as many as fit")]
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let bits = (z ^ (z >> 31)) >> 11;
        bits as f64 / (1_u64 << 52) as f64 - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::Draw;

    #[test]
    fn a_seed_always_gives_the_same_even_draws() {
        let draws = |seed| {
            let mut draw = Draw(seed);
            (0..4000).map(|_| draw.next()).collect::<Vec<f64>>()
        };
        let list = draws(1);
        assert_eq!(list, draws(1));
        assert_ne!(list, draws(2));
        assert!(list.iter().all(|value| (-1.0..1.0).contains(value)));
        let mean = list.iter().sum::<f64>() / 4000.0;
        let square = list.iter().map(|value| value * value).sum::<f64>() / 4000.0;
        assert!(mean.abs() < 0.03 && (square - 1.0 / 3.0).abs() < 0.02, "{mean} {square}");
    }
}
