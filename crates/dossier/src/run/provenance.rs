//! Provenance: every file read by its hash, every setting, the program's version. Nothing of the machine.

use super::film::Film;
use crate::error::DossierError;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::Plan;
use filmgauge_results::{InputFile, Provenance};
use std::collections::BTreeSet;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Files of a lab's own template of the sheet.
const TEMPLATE_FILES: [&str; 2] = ["sheet.html.j2", "sheet.css"];

/// Hashes the inputs and lists the settings.
pub(crate) fn provenance(
    dossier: &Dossier,
    plan: &Plan,
    films: &[Film],
    options: &RunOptions,
) -> Result<Provenance, DossierError> {
    let mut files: BTreeSet<PathBuf> = BTreeSet::new();
    files.insert(dossier.root.join(&dossier.file_name));
    files.extend(films.iter().flat_map(|film| film.files.iter().cloned()));
    files.extend(
        plan.cameras.iter().filter_map(|camera| camera.lens_file.as_ref()).map(|f| dossier.root.join(f)),
    );
    // Steers the page alone, but the page's bytes too must follow from what is listed.
    let template =
        dossier.template().into_iter().flat_map(|folder| TEMPLATE_FILES.map(|name| folder.join(name)));
    files.extend(template.filter(|file| file.is_file()));
    for channel in &plan.channels {
        files.extend(channel_files(&dossier.root.join(&channel.file)));
    }
    let mut inputs = Vec::new();
    for file in &files {
        inputs.push(input_file(&dossier.root, file)?);
    }
    inputs.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(Provenance {
        program: format!("filmgauge {}", env!("CARGO_PKG_VERSION")),
        inputs,
        settings: settings(options),
    })
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

fn input_file(root: &Path, file: &Path) -> Result<InputFile, DossierError> {
    let in_file = |source| DossierError::Io { path: file.to_owned(), source };
    let mut opened = std::fs::File::open(file).map_err(in_file)?;
    let mut hasher = blake3::Hasher::new();
    let mut block = vec![0_u8; 1 << 16];
    let mut bytes = 0_u64;
    loop {
        let read = opened.read(&mut block).map_err(in_file)?;
        if read == 0 {
            break;
        }
        hasher.update(&block[..read]);
        bytes += read as u64;
    }
    let relative = file.strip_prefix(root).unwrap_or(file);
    let parts: Vec<_> = relative.components().map(|part| part.as_os_str().to_string_lossy()).collect();
    Ok(InputFile { path: parts.join("/"), bytes, blake3: hasher.finalize().to_hex().to_string() })
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
