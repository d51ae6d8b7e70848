//! `marked`: a marked film of a measured dossier, or stills of it.

use crate::exit::Exit;
use crate::marked_args::MarkedArgs;
use crate::watch::Terminal;
use anyhow::bail;
use filmgauge_dossier::Dossier;
use filmgauge_marked::{MarkedMade, marked_film, marked_stills};
use std::io::Write;

pub(super) fn marked(wanted: &MarkedArgs, json: bool, out: &mut dyn Write) -> anyhow::Result<Exit> {
    let dossier = Dossier::read(&wanted.dossier)?;
    let (options, terminal) = (wanted.options(), Terminal::new());
    match (&wanted.out, &wanted.stills) {
        (_, Some(folder)) => {
            let written = marked_stills(&dossier, &options, &wanted.stills_of(), folder, &terminal);
            terminal.clear();
            let written = written?;
            if json {
                let said = serde_json::json!({ "stills": written });
                writeln!(out, "{}", serde_json::to_string_pretty(&said)?)?;
            } else {
                written.iter().try_for_each(|path| writeln!(out, "{}", path.display()))?;
            }
        }
        (Some(film), None) => {
            let made = marked_film(&dossier, &options, film, &terminal);
            terminal.clear();
            say(&made?, json, out)?;
        }
        (None, None) => bail!("name the film with --out, or a folder for stills with --stills"),
    }
    Ok(Exit::Done)
}

fn say(made: &MarkedMade, json: bool, out: &mut dyn Write) -> anyhow::Result<()> {
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
