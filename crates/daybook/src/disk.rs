//! The four acts that touch the disk, each whole or not at all; a trait so that a full disk can be tried out.

use filmgauge_shelf::{self as shelf, sync_folder};
use std::fs::OpenOptions;
use std::io::{Result, Write};
use std::path::Path;

/// Writes for the workbook.
pub(crate) trait Disk: Send {
    /// Puts `bytes` at `path`: temporary file in the same folder, synced, renamed, folder synced.
    fn replace(&self, path: &Path, bytes: &[u8]) -> Result<()>;
    /// Cuts the file to `keep` bytes, adds `bytes` and syncs; the file is made if missing.
    fn append(&self, path: &Path, keep: u64, bytes: &[u8]) -> Result<()>;
    /// Takes the file away.
    fn remove(&self, path: &Path) -> Result<()>;
    /// Gives a file another name in its folder.
    fn rename(&self, from: &Path, to: &Path) -> Result<()>;
}

/// The disk itself.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct RealDisk;

impl Disk for RealDisk {
    fn replace(&self, path: &Path, bytes: &[u8]) -> Result<()> {
        shelf::make_folder(folder_of(path))?;
        shelf::put(path, bytes)
    }

    fn append(&self, path: &Path, keep: u64, bytes: &[u8]) -> Result<()> {
        let is_new = !path.exists();
        let mut file = OpenOptions::new().create(true).truncate(false).write(true).open(path)?;
        file.set_len(keep)?;
        std::io::Seek::seek(&mut file, std::io::SeekFrom::Start(keep))?;
        file.write_all(bytes)?;
        file.sync_all()?;
        if is_new { sync_folder(folder_of(path)) } else { Ok(()) }
    }

    fn remove(&self, path: &Path) -> Result<()> {
        std::fs::remove_file(path)?;
        sync_folder(folder_of(path))
    }

    fn rename(&self, from: &Path, to: &Path) -> Result<()> {
        std::fs::rename(from, to)?;
        sync_folder(folder_of(to))
    }
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}
