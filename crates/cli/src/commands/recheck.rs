//! `recheck`: measures again, from a dossier's folder or an archive, and tells whether every byte comes out the same.

use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::anyhow;
use filmgauge_handover::{HandoverError, RecheckOptions};
use std::io::Write;
use std::path::Path;

pub(super) fn recheck(
    what: &Path,
    options: &RecheckOptions,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let terminal = Terminal::new();
    let found = filmgauge_handover::recheck(what, options, &terminal);
    terminal.clear();
    let found = found.map_err(|error| match error {
        HandoverError::Footage { .. } => anyhow!("{error} with --footage"),
        error => error.into(),
    })?;
    if json {
        let differences: Vec<String> = found.differences.iter().flatten().map(ToString::to_string).collect();
        let said = serde_json::json!({ "same": found.is_same(), "changes": found.changes, "differences": differences });
        writeln!(out, "{}", serde_json::to_string_pretty(&said)?)?;
    } else {
        write!(out, "{found}")?;
    }
    Ok(Exit::person_if(!found.is_same()))
}
