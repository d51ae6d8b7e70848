//! The four acts that touch the disk, each whole or not at all; a trait so that a full disk can be tried out.

use std::fs::{File, OpenOptions};
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
        let folder = folder_of(path);
        std::fs::create_dir_all(folder)?;
        let mut builder = tempfile::Builder::new();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any new file: the user's own mask decides.
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let mut file = builder.prefix(".filmgauge-").tempfile_in(folder)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        sync_folder(folder)
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

/// Other systems than Unix keep no handle of a folder to sync.
fn sync_folder(folder: &Path) -> Result<()> {
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}
