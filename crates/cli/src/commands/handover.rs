//! `handover`: a measured dossier as one archive that opens on another machine.

use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::ensure;
use filmgauge_dossier::Dossier;
use filmgauge_handover::PackOptions;
use std::io::Write;
use std::path::{Path, PathBuf};

pub(super) fn handover(
    dossier: &Path,
    archive: Option<&Path>,
    with_footage: bool,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let dossier = Dossier::read(dossier)?;
    let id = filmgauge_shelf::file_name(&dossier.document.test.id);
    let archive = archive.map_or_else(|| PathBuf::from(format!("{id}.zip")), Path::to_owned);
    ensure!(!archive.is_dir(), "{} is a folder; name the archive, such as {id}.zip", archive.display());
    let results = dossier.root.join("results");
    let options = PackOptions { with_footage };
    let terminal = Terminal::new();
    let packed = filmgauge_handover::pack((&dossier.root, &results), options, &archive, &terminal);
    terminal.clear();
    let manifest = packed?;
    let n = manifest.files.len();
    let by_hash = manifest.files.iter().filter(|file| !file.included).count();
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&manifest)?)?;
    } else {
        writeln!(
            out,
            "{}: {n} files of {}, {by_hash} of them by their hash alone",
            archive.display(),
            dossier.document.test.id
        )?;
        if by_hash > 0 {
            writeln!(out, "The footage is not inside; --with-footage puts it in.")?;
        }
    }
    Ok(Exit::Done)
}
