//! An archive in a scratch folder, with the footage that it holds by hash laid beside: a dossier like any other.

use crate::HandoverError;
use crate::unpack::unpack;
use filmgauge_dossier::Watch;
use std::path::{Path, PathBuf};

/// The dossier of `archive`, opened in the empty folder `root`, and what was changed after the hand-over.
pub(crate) fn opened(
    archive: &Path,
    footage: Option<&Path>,
    root: &Path,
    watch: &dyn Watch,
) -> Result<(PathBuf, Vec<String>), HandoverError> {
    std::fs::create_dir(root).map_err(HandoverError::file(root))?;
    let unpacked = unpack(archive, root, watch)?;
    for file in &unpacked.by_hash {
        let missing = || HandoverError::Footage {
            archive: archive.to_owned(),
            file: file.clone(),
            folder: footage.map(Path::to_owned),
        };
        let source = footage.and_then(|folder| std::path::absolute(folder.join(file)).ok());
        let source = source.filter(|source| source.is_file()).ok_or_else(missing)?;
        let place = root.join(file);
        if let Some(folder) = place.parent() {
            std::fs::create_dir_all(folder).map_err(HandoverError::file(folder))?;
        }
        laid(&source, &place).map_err(HandoverError::file(&source))?;
    }
    let changed = unpacked.changed.iter().map(|file| format!("{file} was changed after the hand-over"));
    let name = unpacked.manifest.files.iter().map(|file| &file.path).find(|path| is_dossier(path));
    Ok((name.map_or_else(|| root.to_owned(), |name| root.join(name)), changed.collect()))
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
