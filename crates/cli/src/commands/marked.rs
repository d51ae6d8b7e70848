//! `marked`: a marked film of a measured dossier, or stills of it.

use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::bail;
use filmgauge_dossier::Dossier;
use filmgauge_marked::{MarkedOptions, StillFrames, marked_film, marked_stills};
use std::io::Write;
use std::path::Path;

/// What is written, and where to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted<'a> {
    /// Folder of the dossier, or its file.
    pub(super) dossier: &'a Path,
    /// Film to write.
    pub(super) film: Option<&'a Path>,
    /// Folder of stills.
    pub(super) stills: Option<&'a Path>,
    /// Frames of the stills; those of instants when empty.
    pub(super) frames: &'a [u32],
}

/// Names of curves as typed; the word none stands for no curves.
pub(super) fn curves(typed: &[String]) -> Vec<String> {
    let names: Vec<String> =
        typed.iter().map(|name| name.trim().to_owned()).filter(|name| !name.is_empty()).collect();
    if names == ["none"] { Vec::new() } else { names }
}

pub(super) fn marked(
    wanted: &Wanted<'_>,
    options: &MarkedOptions,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let dossier = Dossier::read(wanted.dossier)?;
    let terminal = Terminal::new();
    match (wanted.film, wanted.stills) {
        (_, Some(folder)) => {
            let frames = match wanted.frames {
                [] => StillFrames::Instants,
                named => StillFrames::Named(named.to_vec()),
            };
            let written = marked_stills(&dossier, options, &frames, folder, &terminal);
            terminal.clear();
            let written = written?;
            if json {
                writeln!(
                    out,
                    "{}",
                    serde_json::to_string_pretty(&serde_json::json!({ "stills": written }))?
                )?;
            } else {
                written.iter().try_for_each(|path| writeln!(out, "{}", path.display()))?;
            }
        }
        (Some(film), None) => {
            let made = marked_film(&dossier, options, film, &terminal);
            terminal.clear();
            say(&made?, json, out)?;
        }
        (None, None) => bail!("name the film with --out, or a folder for stills with --stills"),
    }
    Ok(Exit::Done)
}

fn say(made: &filmgauge_marked::MarkedMade, json: bool, out: &mut dyn Write) -> anyhow::Result<()> {
    let [from, to] = made.frames;
    if json {
        let said = serde_json::json!({
            "film": made.path,
            "camera": made.camera,
            "frames": made.frames,
            "pictures": made.n_pictures,
            "pictures_per_s": made.per_second,
            "speed": made.slower,
            "frames_kept": made.n_kept,
            "size_px": made.size,
            "film_at_px": made.film_at,
        });
        writeln!(out, "{}", serde_json::to_string_pretty(&said)?)?;
        return Ok(());
    }
    writeln!(
        out,
        "{}: camera {}, frames {from} to {to}, {} pictures of {} x {} px, {} a second: {}",
        made.path.display(),
        made.camera,
        made.n_pictures,
        made.size[0],
        made.size[1],
        made.per_second,
        made.slower
    )?;
    if made.n_kept > 0 {
        writeln!(out, "{} frames were there already from a film that was stopped.", made.n_kept)?;
    }
    Ok(())
}
