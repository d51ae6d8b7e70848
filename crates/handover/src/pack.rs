//! Packs a measured dossier: its folder, its results, a manifest; footage inside or by its hash.

use crate::HandoverError;
use crate::changes::input_changes;
use crate::manifest::{MANIFEST, Manifest, ManifestFile, SCHEMA, hashed_file, opened};
use filmgauge_dossier::Watch;
use filmgauge_results::{InputKind, Provenance};
use std::io::Write;
use std::path::{Component, Path};
use zip::write::SimpleFileOptions;

/// What goes into an archive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PackOptions {
    /// Footage too, not by its hash alone.
    pub with_footage: bool,
}

/// Writes the archive `to` whole or not at all, and gives its manifest: that of the dossier in `root` with the results in
/// `results`. Results that no longer follow from the files are not handed over.
///
/// # Errors
/// [`HandoverError::Results`] without results of this program; [`HandoverError::Stale`] when an input has changed since;
/// [`HandoverError::Outside`] for an input outside the folder; [`HandoverError::File`] for one that cannot be read, and
/// when `to` cannot be written; [`HandoverError::Place`] for one among the results; [`HandoverError::Stopped`] on request.
pub fn pack(
    (root, results): (&Path, &Path),
    options: PackOptions,
    to: &Path,
    watch: &dyn Watch,
) -> Result<Manifest, HandoverError> {
    let then = stored_provenance(results)?;
    let folder = |path: &Path| path.canonicalize().ok();
    if to
        .parent()
        .and_then(folder)
        .is_some_and(|place| folder(results).is_some_and(|results| place.starts_with(results)))
    {
        return Err(HandoverError::Place { path: to.to_owned() });
    }
    if let Some(change) = input_changes(root, &then, watch)?.first() {
        return Err(HandoverError::Stale { change: change.to_string() });
    }
    let mut files = Vec::new();
    for input in &then.inputs {
        if Path::new(&input.path).components().any(|part| !matches!(part, Component::Normal(_))) {
            return Err(HandoverError::Outside { path: input.path.clone() });
        }
        files.push(ManifestFile {
            path: input.path.clone(),
            bytes: input.bytes,
            blake3: input.blake3.clone(),
            included: options.with_footage || input.kind != InputKind::Footage,
        });
    }
    let mut names = Vec::new();
    for entry in std::fs::read_dir(results).map_err(HandoverError::file(results))? {
        let path = entry.map_err(HandoverError::file(results))?.path();
        if let (true, Some(name)) = (path.is_file(), path.file_name()) {
            names.push(name.to_string_lossy().into_owned());
        }
    }
    for name in names {
        let (bytes, blake3) = hashed_file(&results.join(&name), watch)?;
        files.push(ManifestFile { path: format!("{RESULTS}/{name}"), bytes, blake3, included: true });
    }
    files.sort_by(|a, b| a.path.cmp(&b.path));
    let manifest = Manifest { schema: SCHEMA, program: then.program, files };
    let text = serde_json::to_vec_pretty(&manifest)
        .map_err(|source| HandoverError::File { path: MANIFEST.into(), source: source.into() })?;
    filmgauge_shelf::put_with(to, |file| write((&manifest, &text), (root, results), file, watch))
        .map_err(HandoverError::watched(to, watch))?;
    Ok(manifest)
}

/// Folder of the results in an archive.
pub(crate) const RESULTS: &str = "results";

/// The provenance among stored results.
///
/// # Errors
/// [`HandoverError::Results`] when it is missing or not one of this program's.
pub fn stored_provenance(results: &Path) -> Result<Provenance, HandoverError> {
    let path = results.join("provenance.json");
    let fault = |why: String| HandoverError::Results { path: path.clone(), why };
    let text = std::fs::read_to_string(&path).map_err(|source| fault(source.to_string()))?;
    serde_json::from_str(&text).map_err(|source| fault(source.to_string()))
}

fn write(
    (manifest, text): (&Manifest, &[u8]),
    (root, results): (&Path, &Path),
    to: &mut std::fs::File,
    watch: &dyn Watch,
) -> std::io::Result<()> {
    // The fixed date of the format's beginning, so that the same folder gives the same bytes.
    let entry = SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644)
        .large_file(true);
    let mut archive = zip::ZipWriter::new(to);
    archive.start_file(MANIFEST, entry)?;
    archive.write_all(text)?;
    for file in manifest.files.iter().filter(|file| file.included) {
        let of_results = file.path.strip_prefix(RESULTS).and_then(|rest| rest.strip_prefix('/'));
        let path = of_results.map_or_else(|| root.join(&file.path), |name| results.join(name));
        archive.start_file(file.path.as_str(), entry)?;
        std::io::copy(&mut opened("pack", &path, watch).map_err(std::io::Error::other)?, &mut archive)?;
    }
    archive.finish()?;
    Ok(())
}
