//! `template`: the sheet's template and a style to add to, for a lab to change.

use crate::exit::Exit;
use std::io::Write;
use std::path::Path;

pub(super) fn template(folder: &Path, json: bool, out: &mut dyn Write) -> anyhow::Result<Exit> {
    let written = filmgauge_report::write_template(folder)?;
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&written)?)?;
        return Ok(Exit::Done);
    }
    for path in &written {
        writeln!(out, "{}", path.display())?;
    }
    writeln!(
        out,
        "Change them, then name the folder: filmgauge measure DOSSIER --template {0}, or template = \"{0}\" in [test]",
        folder.display()
    )?;
    Ok(Exit::Done)
}
