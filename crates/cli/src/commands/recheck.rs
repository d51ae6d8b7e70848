//! `recheck`: measures again, from a dossier's folder or an archive, and tells whether every byte comes out the same.

use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::{Context, bail, ensure};
use filmgauge_dossier::{Dossier, RunOptions};
use filmgauge_handover::{
    Change, Difference, differences, input_changes, settings_changed, stored_provenance,
};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What is proved, and with what.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted<'a> {
    /// Folder of the dossier, or an archive.
    pub(super) what: &'a Path,
    /// Folder with footage that an archive holds by its hash alone.
    pub(super) footage: Option<&'a Path>,
    /// Threads; all cores when left out.
    pub(super) threads: Option<usize>,
}

/// What came out.
#[derive(Debug, Default)]
struct Found {
    /// What is not as it was when the results were made, or handed over.
    changes: Vec<String>,
    /// How results made again differ from the stored ones; `None` when nothing was measured.
    differences: Option<Vec<Difference>>,
}

pub(super) fn recheck(wanted: Wanted<'_>, json: bool, out: &mut dyn Write) -> anyhow::Result<Exit> {
    let scratch = tempfile::tempdir().context("a scratch folder is needed")?;
    let mut found = Found::default();
    let root = if wanted.what.is_file() && wanted.what.extension().is_none_or(|kind| kind != "toml") {
        opened(wanted, scratch.path(), &mut found)?
    } else {
        wanted.what.to_owned()
    };
    if found.changes.is_empty() {
        prove(&root, wanted.threads, &scratch.path().join("again"), &mut found)?;
    }
    let same = found.changes.is_empty() && found.differences.as_ref().is_some_and(Vec::is_empty);
    if json {
        let differences: Vec<String> = found.differences.iter().flatten().map(ToString::to_string).collect();
        let said = serde_json::json!({ "same": same, "changes": found.changes, "differences": differences });
        writeln!(out, "{}", serde_json::to_string_pretty(&said)?)?;
    } else {
        say(&found, out)?;
    }
    Ok(Exit::person_if(!same))
}

/// An archive in the scratch folder, with the footage that it holds by hash laid beside.
fn opened(wanted: Wanted<'_>, scratch: &Path, found: &mut Found) -> anyhow::Result<PathBuf> {
    let root = scratch.join("archive");
    std::fs::create_dir(&root)?;
    let archive = filmgauge_handover::unpack(wanted.what, &root)?;
    found
        .changes
        .extend(archive.changed.iter().map(|file| format!("{file} was changed after the hand-over")));
    for file in &archive.by_hash {
        let Some(folder) = wanted.footage else {
            bail!(
                "{} holds {file} by its hash alone; give the folder that it lies in with --footage",
                wanted.what.display()
            )
        };
        let source = std::path::absolute(folder.join(file))?;
        ensure!(
            source.is_file(),
            "{} is not there; --footage takes the folder in which {file} lies",
            source.display()
        );
        let place = root.join(file);
        if let Some(folder) = place.parent() {
            std::fs::create_dir_all(folder)?;
        }
        laid(&source, &place).with_context(|| source.display().to_string())?;
    }
    let name = archive.manifest.files.iter().map(|file| &file.path).find(|path| is_dossier(path));
    Ok(name.map_or_else(|| root.clone(), |name| root.join(name)))
}

fn is_dossier(path: &str) -> bool {
    !path.contains('/') && Path::new(path).extension().is_some_and(|kind| kind == "toml")
}

/// The file as it lies, without a copy where the system knows links.
fn laid(source: &Path, place: &Path) -> std::io::Result<()> {
    #[cfg(unix)]
    return std::os::unix::fs::symlink(source, place);
    #[cfg(not(unix))]
    std::fs::copy(source, place).map(|_bytes| ())
}

fn prove(root: &Path, threads: Option<usize>, again: &Path, found: &mut Found) -> anyhow::Result<()> {
    let dossier = Dossier::read(root)?;
    let options = RunOptions { threads, ..RunOptions::default() };
    let stored = dossier.root.join("results");
    let then = stored_provenance(&stored)?;
    let inputs = input_changes(&dossier.root, &then)?;
    let settings = settings_changed(&then, &filmgauge_dossier::stated(&dossier, &options));
    if !inputs.is_empty() {
        let all = inputs.iter().chain(&settings);
        found.changes.extend(all.map(ToString::to_string));
        return Ok(());
    }
    let terminal = Terminal::new();
    let measured = filmgauge_dossier::measure(&dossier, &options, &terminal);
    terminal.clear();
    filmgauge_report::write_results(again, &measured?, dossier.template().as_deref())?;
    let differences = differences(&stored, again)?;
    if !differences.is_empty() {
        found.changes.extend(settings.iter().map(ToString::to_string));
        if !settings.iter().any(|change| matches!(change, Change::Version { .. } | Change::Setting { .. })) {
            let edited =
                "inputs, settings and version are what they were: the stored results were changed afterwards";
            found.changes.push(edited.into());
        }
    }
    found.differences = Some(differences);
    Ok(())
}

fn say(found: &Found, out: &mut dyn Write) -> std::io::Result<()> {
    match &found.differences {
        Some(differences) if differences.is_empty() => {
            return writeln!(out, "The same: every results file comes out again byte for byte.");
        }
        Some(differences) => {
            writeln!(out, "Not the same: {} results files differ.", differences.len())?;
            differences.iter().try_for_each(|difference| writeln!(out, "  {difference}"))?;
        }
        None => writeln!(out, "Not measured: the results cannot follow from what is there.")?,
    }
    found.changes.iter().try_for_each(|change| writeln!(out, "cause: {change}"))
}
