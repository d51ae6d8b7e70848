//! `survey`: reads footage once and says what it is, what its time stamps show, and what is wrong with it.

use crate::exit::Exit;
use crate::watch::Terminal;
use filmgauge_dossier::{Progress, Watch};
use filmgauge_footage::{ReadOptions, Survey};
use serde_json::json;
use std::io::Write;
use std::path::Path;

pub(super) fn survey(footage: &[String], json: bool, out: &mut dyn Write) -> anyhow::Result<Exit> {
    // Damage marks are complete with one decoder thread only.
    let options = ReadOptions { threads: 1, ..ReadOptions::default() };
    let mut needs_person = false;
    let mut pages = Vec::new();
    for name in footage {
        let terminal = Terminal::new();
        let survey = filmgauge_footage::survey(Path::new("."), name, &options, &mut |frame| {
            terminal.progress(&Progress { step: name, done: u64::from(frame.0), total: None });
            !terminal.stop_asked()
        });
        terminal.clear();
        let survey = survey?;
        needs_person |= !survey.faults.is_empty();
        if json {
            pages.push(as_json(name, &survey));
        } else {
            print(name, &survey, out)?;
        }
    }
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&pages)?)?;
    }
    Ok(Exit::person_if(needs_person))
}

fn as_json(name: &str, survey: &Survey) -> serde_json::Value {
    let info = &survey.info;
    json!({
        "footage": name,
        "frames": survey.frames.len(),
        "width_px": info.width,
        "height_px": info.height,
        "bits": info.bits,
        "container": info.container,
        "codec": info.codec,
        "pixel_format": info.pixel_format,
        "grey_from": info.luma.words(),
        "full_range": info.full_range,
        "playback_rate_only": info.container_rate,
        "declared_frames": info.declared_frames,
        "first_stamp_s": survey.frames.first().and_then(|frame| frame.stamp).map(|stamp| stamp.as_s()),
        "last_stamp_s": survey.frames.last().and_then(|frame| frame.stamp).map(|stamp| stamp.as_s()),
        "key_frames": survey.frames.iter().filter(|frame| frame.key).count(),
        "damaged_frames": survey.frames.iter().filter(|frame| frame.damaged).count(),
        "faults": survey.faults.iter().map(|fault| fault.text.clone()).collect::<Vec<_>>(),
    })
}

fn print(name: &str, survey: &Survey, out: &mut dyn Write) -> std::io::Result<()> {
    let info = &survey.info;
    writeln!(out, "{name}")?;
    writeln!(out, "  frames         {}", survey.frames.len())?;
    writeln!(out, "  picture        {} x {} px, {} bit", info.width, info.height, info.bits)?;
    writeln!(out, "  stored as      {}, {}, {}", info.container, info.codec, info.pixel_format)?;
    writeln!(out, "  grey from      {}", info.luma.words())?;
    if let Some(rate) = info.container_rate {
        writeln!(out, "  playback rate  {rate:.3} frames/s: for playing only, not the film speed")?;
    }
    let stamps = survey.frames.iter().filter_map(|frame| frame.stamp).collect::<Vec<_>>();
    if let (Some(first), Some(last)) = (stamps.first(), stamps.last()) {
        writeln!(out, "  time stamps    {:.6} s to {:.6} s", first.as_s(), last.as_s())?;
    }
    writeln!(out, "  key frames     {}", survey.frames.iter().filter(|frame| frame.key).count())?;
    if survey.faults.is_empty() {
        writeln!(out, "  faults         none")?;
    }
    for fault in &survey.faults {
        writeln!(out, "  fault          {}", fault.text)?;
        writeln!(out, "                 {}", fault.kind.remedy())?;
    }
    Ok(())
}
