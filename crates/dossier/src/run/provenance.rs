//! Provenance: every file read by its hash, every setting, the program's version. Nothing of the machine.

use super::film::Film;
use crate::error::DossierError;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::Plan;
use crate::watch::Watch;
use crate::watched::Watched;
use filmgauge_results::{InputFile, InputKind, KEPT_TEMPLATE, Provenance};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Files of a lab's own template of the sheet.
const TEMPLATE_FILES: [&str; 2] = ["sheet.html.j2", "sheet.css"];

/// Hashes the inputs and lists the settings.
pub(crate) fn provenance(
    dossier: &Dossier,
    plan: &Plan,
    films: &[Film],
    options: &RunOptions,
    watch: &dyn Watch,
) -> Result<Provenance, DossierError> {
    let mut files: BTreeMap<PathBuf, InputKind> = BTreeMap::new();
    for (file, kind) in input_files(dossier, plan, films) {
        files.entry(file).or_insert(kind);
    }
    let mut inputs = Vec::new();
    for (file, kind) in &files {
        let relative = file.strip_prefix(&dossier.root).unwrap_or(file);
        inputs.push(input_file(named(relative), file, *kind, watch)?);
    }
    for (name, file) in template_files(dossier, options) {
        inputs.push(input_file(name, &file, InputKind::Template, watch)?);
    }
    inputs.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(Provenance { inputs, ..stated(dossier, options) })
}

/// Every file that the results follow from; one that serves twice counts as what it is first.
fn input_files(dossier: &Dossier, plan: &Plan, films: &[Film]) -> Vec<(PathBuf, InputKind)> {
    let mut files = vec![(dossier.root.join(&dossier.file_name), InputKind::Dossier)];
    let mut add =
        |more: Vec<PathBuf>, kind: InputKind| files.extend(more.into_iter().map(|file| (file, kind)));
    add(films.iter().filter_map(|film| film.picks.clone()).collect(), InputKind::Picks);
    add(films.iter().flat_map(|film| film.files.iter().cloned()).collect(), InputKind::Footage);
    let lenses = plan.cameras.iter().filter_map(|camera| camera.lens_file.as_ref());
    add(lenses.map(|file| dossier.root.join(file)).collect(), InputKind::Lens);
    for channel in &plan.channels {
        add(channel_files(&dossier.root.join(&channel.file)), InputKind::Channel);
    }
    files
}

/// Program, settings and the dossier's keys as they are now; no inputs.
#[must_use]
pub fn stated(dossier: &Dossier, options: &RunOptions) -> Provenance {
    Provenance {
        program: format!("filmgauge {}", env!("CARGO_PKG_VERSION")),
        inputs: Vec::new(),
        settings: settings(options),
        dossier: keys(dossier),
    }
}

/// Every key of the dossier that is stated or has a usual value, one line each, in order of name.
fn keys(dossier: &Dossier) -> Vec<String> {
    let mut lines = Vec::new();
    // What was read from TOML can be written as TOML.
    if let Ok(table) = toml::Table::try_from(&dossier.document) {
        put_keys("", &toml::Value::Table(table), &mut lines);
    }
    lines.sort();
    lines
}

fn put_keys(place: &str, value: &toml::Value, lines: &mut Vec<String>) {
    match value {
        toml::Value::Table(table) => {
            for (key, value) in table {
                let place = if place.is_empty() { key.clone() } else { format!("{place}.{key}") };
                put_keys(&place, value, lines);
            }
        }
        toml::Value::Array(items) if items.iter().any(toml::Value::is_table) => {
            for (number, item) in items.iter().enumerate() {
                // An entry is named by its id, so that one taken out does not rename the others.
                let id = item.get("id").and_then(toml::Value::as_str);
                let name = id.map_or_else(|| number.to_string(), str::to_owned);
                put_keys(&format!("{place}[{name}]"), item, lines);
            }
        }
        value => lines.push(format!("{place} = {value}")),
    }
}

/// The header of an exchange folder stands for the channel files beside it.
fn channel_files(header: &Path) -> Vec<PathBuf> {
    let mut files = vec![header.to_owned()];
    let is_exchange = header.extension().is_some_and(|ext| ext.eq_ignore_ascii_case("mme"));
    if let (true, Some(folder)) = (is_exchange, header.parent()) {
        for name in ["Channel", "CHANNEL", "channel"] {
            let Ok(entries) = std::fs::read_dir(folder.join(name)) else { continue };
            files.extend(entries.flatten().map(|entry| entry.path()).filter(|path| path.is_file()));
            break;
        }
    }
    files
}

/// Files of the template, with the names that they have in the dossier. The page's bytes too must follow from what is
/// listed. A template given for this measurement alone that lies elsewhere is kept with the results, and named there.
fn template_files(dossier: &Dossier, options: &RunOptions) -> Vec<(String, PathBuf)> {
    let whole = |folder: &Path| folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    let (folder, name) = match (&options.template, dossier.template()) {
        (Some(given), _) => {
            let inside = whole(given).strip_prefix(whole(&dossier.root)).map(named);
            (given.clone(), inside.unwrap_or_else(|_| KEPT_TEMPLATE.to_owned()))
        }
        (None, Some(folder)) => {
            let name = named(folder.strip_prefix(&dossier.root).unwrap_or(&folder));
            (folder, name)
        }
        (None, None) => return Vec::new(),
    };
    let place = |file: &str| if name.is_empty() { file.to_owned() } else { format!("{name}/{file}") };
    let files = TEMPLATE_FILES.map(|file| (place(file), folder.join(file)));
    files.into_iter().filter(|(_, file)| file.is_file()).collect()
}

/// A path with forward slashes.
fn named(path: &Path) -> String {
    let parts: Vec<_> = path.components().map(|part| part.as_os_str().to_string_lossy()).collect();
    parts.join("/")
}

fn input_file(
    path: String,
    file: &Path,
    kind: InputKind,
    watch: &dyn Watch,
) -> Result<InputFile, DossierError> {
    let in_file = |source| {
        if watch.stop_asked() {
            DossierError::Stopped
        } else {
            DossierError::Io { path: file.to_owned(), source }
        }
    };
    let opened = std::fs::File::open(file).map_err(in_file)?;
    let size = opened.metadata().map_err(in_file)?.len();
    let reader = Watched::new(opened, &format!("hash {path}"), size, watch);
    let (bytes, blake3) = filmgauge_shelf::hashed_of(reader).map_err(in_file)?;
    Ok(InputFile { path, kind, bytes, blake3 })
}

/// Every setting that steers the figures. Thread counts do not, so they are not listed.
fn settings(options: &RunOptions) -> Vec<String> {
    let mut lines = vec![
        format!("crosscheck = {:?}", options.crosscheck),
        format!("findings = {:?}", options.findings),
        format!("flail = {:?}", options.flail),
        format!("follow = {:?}", options.follow),
        format!("onset = {:?}", options.onset),
        format!("pose = {:?}", options.pose),
        format!("smooth = {:?}", options.smooth),
    ];
    lines.sort();
    lines
}
