//! `new`: a dossier to fill in, and what is still missing in it.

use crate::exit::Exit;
use anyhow::Context;
use filmgauge_dossier::{Dossier, missing, new_dossier_text};
use serde::Serialize;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};

/// What was made, as printed with `--json`.
#[derive(Serialize)]
struct Made {
    dossier: PathBuf,
    missing: Vec<String>,
}

pub(super) fn new(
    folder: &Path,
    footage: &[PathBuf],
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    std::fs::create_dir_all(folder).with_context(|| format!("{} cannot be made", folder.display()))?;
    let text = new_dossier_text(folder, footage);
    let dossier = Dossier::parse(folder.to_owned(), "dossier.toml", text.clone())?;
    let path = folder.join("dossier.toml");
    let mut file = OpenOptions::new().write(true).create_new(true).open(&path).with_context(|| {
        format!("{} was not written; an existing dossier is never replaced", path.display())
    })?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .with_context(|| format!("{} could not be written whole", path.display()))?;
    let missing: Vec<String> = missing(&dossier.document).into_iter().map(|lack| lack.text).collect();
    let made = Made { dossier: path, missing };
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&made)?)?;
        return Ok(Exit::Done);
    }
    writeln!(out, "{} made. Still to fill in:", made.dossier.display())?;
    for text in &made.missing {
        writeln!(out, "  {text}")?;
    }
    Ok(Exit::Done)
}
