//! `measure`: the whole chain, to the sheet and the files.

use super::film_channels;
use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::Context;
use filmgauge_dossier::{Dossier, DossierError, KeepPasses, RunOptions};
use filmgauge_results::Results;
use std::io::Write;
use std::path::Path;

/// Where to write.
#[derive(Debug, Clone, Copy)]
pub(super) struct Folders<'a> {
    /// Results; `results` in the dossier when left out.
    pub(super) results: Option<&'a Path>,
    /// Motion from film as channels; not written when left out.
    pub(super) channels: Option<&'a Path>,
    /// The lab's own template of the sheet; the dossier's when left out.
    pub(super) template: Option<&'a Path>,
}

/// A dossier and what comes out of it, progress shown meanwhile. Films that a stopped run had followed are not followed
/// again; once all is measured, nothing of them is kept, so that a later run measures from the films.
pub(super) fn measured(dossier: &Path, options: RunOptions) -> anyhow::Result<(Dossier, Results)> {
    let dossier = Dossier::read(dossier)?;
    let program = std::env::current_exe().ok();
    let keep = program.and_then(|program| KeepPasses::of(&dossier.root, &program));
    let options = RunOptions { keep, ..options };
    let terminal = Terminal::new();
    let measured = filmgauge_dossier::measure(&dossier, &options, &terminal);
    terminal.clear();
    let measured = measured.map_err(|error| match (&error, &options.keep) {
        (DossierError::Stopped, Some(keep)) if keep.folder.exists() => anyhow::anyhow!(
            "{error}. Films followed to their end are kept in {}: the same command goes on from there",
            keep.folder.display()
        ),
        _ => error.into(),
    })?;
    if let Some(keep) = &options.keep {
        keep.forget();
    }
    Ok((dossier, measured))
}

pub(super) fn measure(
    dossier: &Path,
    folders: Folders<'_>,
    threads: Option<usize>,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let given = folders.template.map(Path::to_owned);
    let options = RunOptions { threads, template: given.clone(), ..RunOptions::default() };
    let (dossier, results) = measured(dossier, options)?;
    let folder = folders.results.map_or_else(|| dossier.root.join("results"), Path::to_owned);
    let template = given.or_else(|| dossier.template());
    let written = filmgauge_report::write_results(&folder, &results, template.as_deref())
        .with_context(|| format!("results of {} could not be written", results.test.id))?;
    let header = folders.channels.map(|folder| film_channels::write(folder, &results)).transpose()?.flatten();
    if json {
        let said = serde_json::json!({ "findings": results.findings, "notices": results.notices, "template_fault": written.template_fault });
        writeln!(out, "{}", serde_json::to_string_pretty(&said)?)?;
    } else {
        write!(out, "{}", filmgauge_report::findings_text(&results))?;
        for check in results.crosschecks.iter().filter(|check| check.needs_person()) {
            let faults: Vec<_> = check.suspected.iter().map(|suspect| suspect.fault.as_str()).collect();
            let suspected =
                if faults.is_empty() { String::new() } else { format!("; suspected: {}", faults.join(", ")) };
            writeln!(out, "\nchannel {}: {}{suspected}", check.channel, check.verdict)?;
        }
        writeln!(out, "\nSheet: {}", folder.join("sheet.html").display())?;
        writeln!(out, "On paper: {}", folder.join("sheet.pdf").display())?;
        writeln!(
            out,
            "Tables: {}, and as CSV, Parquet and JSON beside it",
            folder.join("results.xlsx").display()
        )?;
        if let Some(header) = header {
            writeln!(out, "Channels: {}", header.display())?;
        }
    }
    if let (false, Some(fault)) = (json, &written.template_fault) {
        writeln!(out, "\nneeds a person: template: {fault}")?;
    }
    Ok(Exit::person_if(results.needs_person() || written.template_fault.is_some()))
}
