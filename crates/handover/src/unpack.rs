//! Opens an archive into an empty folder: no entry may lead out of it, and every file has the hash that its manifest states.

use crate::HandoverError;
use crate::manifest::{MANIFEST, Manifest, SCHEMA, hashed_file};
use filmgauge_dossier::{Watch, Watched};
use std::io::Read;
use std::path::{Component, Path, PathBuf};

/// Greatest size of a manifest, bytes: one of a million files is smaller.
const MOST_MANIFEST: u64 = 256 << 20;

/// An opened archive.
#[derive(Debug, Clone, PartialEq)]
pub struct Unpacked {
    /// Its manifest.
    pub manifest: Manifest,
    /// Files whose bytes are not those of the manifest, or that it does not name; none in a sound archive.
    pub changed: Vec<String>,
    /// Files that stand in the manifest by their hash alone.
    pub by_hash: Vec<String>,
}

/// Unpacks `archive` into `into`, an empty folder.
///
/// # Errors
/// [`HandoverError::Archive`] for a damaged archive, one of another program, a newer schema, and an entry that leads out
/// of the folder: nothing is written then; [`HandoverError::File`] when the folder cannot be written;
/// [`HandoverError::Stopped`] on request.
pub fn unpack(archive: &Path, into: &Path, watch: &dyn Watch) -> Result<Unpacked, HandoverError> {
    let fault = |why: String| HandoverError::Archive { path: archive.to_owned(), why };
    let file = std::fs::File::open(archive).map_err(HandoverError::file(archive))?;
    let mut zip = zip::ZipArchive::new(file).map_err(|source| fault(source.to_string()))?;
    let manifest = manifest(&mut zip).map_err(&fault)?;
    let mut places = Vec::new();
    for index in 0..zip.len() {
        let entry = zip.by_index(index).map_err(|source| fault(source.to_string()))?;
        let name = entry.name().map_err(|source| fault(source.to_string()))?.into_owned();
        let place = inside(&name).filter(|_| entry.is_file());
        let place = place
            .ok_or_else(|| fault(format!("the entry \"{name}\" leads out of the folder or is no file")))?;
        let stated =
            manifest.files.iter().find(|file| file.path == name && file.included).map(|file| file.bytes);
        let most = if name == MANIFEST { Some(MOST_MANIFEST) } else { stated };
        if most.is_some_and(|most| entry.size() > most) {
            return Err(fault(format!("the entry \"{name}\" is larger than its manifest states")));
        }
        places.push((index, name, place));
    }
    let mut changed = Vec::new();
    for (index, name, place) in places.iter().filter(|(_, name, _)| name != MANIFEST) {
        let Some(stated) = manifest.files.iter().find(|file| file.path == *name && file.included) else {
            changed.push(name.clone());
            continue;
        };
        let path = into.join(place);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(HandoverError::file(folder))?;
        }
        let entry = zip.by_index(*index).map_err(|source| fault(source.to_string()))?;
        let mut to = std::fs::File::create_new(&path).map_err(HandoverError::file(&path))?;
        // A damaged entry has a checksum that does not fit: what came out is told by its hash.
        let mut from = Watched::new(entry.take(stated.bytes), &format!("unpack {name}"), stated.bytes, watch);
        let copied = std::io::copy(&mut from, &mut to);
        if watch.stop_asked() {
            return Err(HandoverError::Stopped);
        }
        if copied.is_err() || hashed_file(&path, watch)?.1 != stated.blake3 {
            changed.push(name.clone());
        }
    }
    let there = |path: &str| places.iter().any(|(_, name, _)| name == path);
    let lost = manifest.files.iter().filter(|file| file.included && !there(&file.path));
    changed.extend(lost.map(|file| file.path.clone()));
    changed.sort();
    let by_hash = manifest.files.iter().filter(|file| !file.included).map(|file| file.path.clone()).collect();
    Ok(Unpacked { manifest, changed, by_hash })
}

fn manifest(zip: &mut zip::ZipArchive<std::fs::File>) -> Result<Manifest, String> {
    let entry = zip.by_name(MANIFEST).map_err(|_not_there| format!("it holds no {MANIFEST}"))?;
    let mut text = Vec::new();
    std::io::Read::read_to_end(&mut std::io::Read::take(entry, MOST_MANIFEST), &mut text)
        .map_err(|source| format!("{MANIFEST}: {source}"))?;
    let manifest: Manifest =
        serde_json::from_slice(&text).map_err(|source| format!("{MANIFEST}: {source}"))?;
    if manifest.schema != SCHEMA {
        return Err(format!("{MANIFEST} has schema {}, this program reads {SCHEMA}", manifest.schema));
    }
    Ok(manifest)
}

/// A name as a path that stays within a folder.
fn inside(name: &str) -> Option<PathBuf> {
    let is_plain = !name.is_empty() && !name.contains(['\\', ':', '\0']);
    let path = Path::new(name);
    let stays = path.components().all(|part| matches!(part, Component::Normal(_)));
    (is_plain && stays).then(|| path.to_owned())
}
