//! `survey`: reads footage once and says what it is, what its time stamps show, and what is wrong with it.

use super::survey_page::{as_json, print};
use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::{Context, ensure};
use filmgauge_dossier::{Progress, Watch};
use filmgauge_footage::{FrameIndex, ReadOptions, Region, Survey, index_footage, working_copy};
use filmgauge_quantities::FrameNumber;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What to keep of a survey.
pub(super) struct Keep<'a> {
    /// File for the frame index.
    pub(super) index: Option<&'a Path>,
    /// File for the working copy.
    pub(super) working_copy: Option<&'a Path>,
    /// Regions of the working copy as typed.
    pub(super) regions: &'a [String],
}

pub(super) fn survey(
    footage: &[String],
    keep: &Keep<'_>,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let wants_files = keep.index.is_some() || keep.working_copy.is_some();
    ensure!(footage.len() == 1 || !wants_files, "--index and --working-copy take one footage at a time");
    let regions = keep.regions.iter().map(|text| region(text)).collect::<anyhow::Result<Vec<_>>>()?;
    let mut needs_person = false;
    let mut pages = Vec::new();
    for name in footage {
        let (survey, index) = read(name)?;
        let index = Arc::new(index);
        if let Some(path) = keep.index {
            index.write(path)?;
        }
        if let Some(path) = keep.working_copy {
            copy(name, &index, &regions, path)?;
        }
        needs_person |= !survey.faults.is_empty();
        if json {
            pages.push(as_json(name, &survey, &index));
        } else {
            print(name, &survey, &index, out)?;
        }
    }
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&pages)?)?;
    }
    Ok(Exit::person_if(needs_person))
}

fn read(name: &str) -> anyhow::Result<(Survey, FrameIndex)> {
    // Damage marks are complete with one decoder thread only.
    let options = ReadOptions { threads: 1, ..ReadOptions::default() };
    let terminal = Terminal::new();
    let read = index_footage(Path::new("."), name, &options, &mut |frame| goes_on(&terminal, name, frame));
    terminal.clear();
    Ok(read?)
}

/// A second pass, in which every frame is compared with the index.
fn copy(name: &str, index: &Arc<FrameIndex>, regions: &[Region], path: &Path) -> anyhow::Result<()> {
    // Pictures of a damaged film are made up alike only by as many threads as made its index.
    let threads = if index.head.sound { ReadOptions::default().threads } else { 1 };
    let options = ReadOptions { threads, ..ReadOptions::default() };
    let terminal = Terminal::new();
    let step = format!("{name}: working copy");
    let mut on_frame = |frame| goes_on(&terminal, &step, frame);
    let written = working_copy(Path::new("."), name, index, regions, path, &options, &mut on_frame);
    terminal.clear();
    Ok(written?)
}

fn goes_on(terminal: &Terminal, step: &str, frame: FrameNumber) -> bool {
    terminal.progress(&Progress { step, done: u64::from(frame.0), total: None });
    !terminal.stop_asked()
}

/// A region typed as "x,y,width,height" in whole pixels.
fn region(text: &str) -> anyhow::Result<Region> {
    let numbers: Result<Vec<usize>, _> = text.split(',').map(|number| number.trim().parse()).collect();
    let numbers = numbers.ok().and_then(|numbers| <[usize; 4]>::try_from(numbers).ok());
    let [x, y, width, height] = numbers.with_context(|| {
        format!("--region \"{text}\": give x,y,width,height in whole px, as 120,80,96,96")
    })?;
    Ok(Region { x, y, width, height })
}

/// Files of a survey as typed.
pub(super) fn keep<'a>(
    index: Option<&'a PathBuf>,
    working_copy: Option<&'a PathBuf>,
    regions: &'a [String],
) -> Keep<'a> {
    Keep { index: index.map(PathBuf::as_path), working_copy: working_copy.map(PathBuf::as_path), regions }
}
