//! Temporary file in the same folder, written, synced, renamed, folder synced: a power cut leaves the old or the new.

use std::fs::File;
use std::io::{Error, ErrorKind, Result, Write};
use std::path::Path;

/// Puts `bytes` at `path`. A file of that name is replaced; the folder must be there.
///
/// # Errors
/// The system's reason with what to do, such as that the disk is full. The old file, if any, then still stands and
/// nothing else is left in the folder.
pub fn put(path: &Path, bytes: &[u8]) -> Result<()> {
    put_with(path, |file| file.write_all(bytes))
}

/// Puts at `path` whatever `write` writes, so that a large file need not be held in memory.
///
/// # Errors
/// As [`put`], and whatever `write` fails with.
pub fn put_with(path: &Path, write: impl FnOnce(&mut File) -> Result<()>) -> Result<()> {
    let folder = folder_of(path);
    let whole = || -> Result<()> {
        let mut builder = tempfile::Builder::new();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any new file: the user's own mask decides.
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let mut file = builder.prefix(".filmgauge-").tempfile_in(folder)?;
        write(file.as_file_mut())?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|fault| fault.error)?;
        sync_folder(folder)
    };
    whole().map_err(advised)
}

/// Gives a file that was written beside it, and is whole, the name `path`. A file of that name is replaced.
///
/// # Errors
/// The system's reason with what to do. The old file, if any, then still stands.
pub fn settle(written: &Path, path: &Path) -> Result<()> {
    let whole = || -> Result<()> {
        // Some systems sync only what is open for writing.
        File::options().read(true).write(true).open(written)?.sync_all()?;
        std::fs::rename(written, path)?;
        sync_folder(folder_of(path))
    };
    whole().map_err(advised)
}

/// Makes a folder with all above it.
///
/// # Errors
/// The system's reason.
pub fn make_folder(folder: &Path) -> Result<()> {
    std::fs::create_dir_all(folder).map_err(advised)
}

/// Makes sure that names in `folder` survive a power cut. Systems that cannot do so need not.
///
/// # Errors
/// The system's reason.
#[cfg(unix)]
pub fn sync_folder(folder: &Path) -> Result<()> {
    match File::open(folder)?.sync_all() {
        // Some network folders know no such act.
        Err(fault) if matches!(fault.kind(), ErrorKind::Unsupported | ErrorKind::InvalidInput) => Ok(()),
        done => done,
    }
}

/// Elsewhere folders need no syncing.
///
/// # Errors
/// Never.
#[cfg(not(unix))]
pub fn sync_folder(_folder: &Path) -> Result<()> {
    Ok(())
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// The reason with what to do about it.
fn advised(fault: Error) -> Error {
    let advice = match fault.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "free space there or choose another folder",
        ErrorKind::FileTooLarge => "the system allows no file of that size there; choose another folder",
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "allow writing there or choose another folder"
        }
        ErrorKind::InvalidFilename => "give it a shorter name without signs that the system does not allow",
        ErrorKind::NotFound => "make the folder first",
        _ => "check that the folder can be written and has space",
    };
    Error::new(fault.kind(), format!("{fault}; {advice}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(dir: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(dir).unwrap();
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn the_new_file_replaces_the_old_one_whole() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("sheet.html");
        put(&path, b"old").unwrap();
        put(&path, b"new").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
        assert_eq!(names(dir.path()), ["sheet.html"]);
    }

    #[test]
    fn a_file_written_beside_gets_its_name() {
        let dir = tempfile::tempdir().unwrap();
        let (beside, path) = (dir.path().join(".beside"), dir.path().join("side.mkv"));
        put(&path, b"old").unwrap();
        std::fs::write(&beside, b"new").unwrap();
        settle(&beside, &path).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
        assert_eq!(names(dir.path()), ["side.mkv"]);
        assert!(settle(&beside, &path).is_err(), "what is not there gets no name");
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
    }

    #[test]
    fn a_disk_that_fills_up_half_way_leaves_the_old_file_and_a_reason() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("marks.csv");
        put(&path, b"old").unwrap();
        let fault = put_with(&path, |file| {
            file.write_all(b"half of ")?;
            Err(ErrorKind::StorageFull.into())
        });
        let said = fault.unwrap_err().to_string();
        assert!(said.contains("free space there or choose another folder"), "{said}");
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(names(dir.path()), ["marks.csv"], "no temporary file is left");
    }

    #[test]
    fn what_cannot_be_written_is_told_with_what_to_do() {
        let dir = tempfile::tempdir().unwrap();
        let said = put(&dir.path().join("none/marks.csv"), b"").unwrap_err().to_string();
        assert!(said.contains("make the folder first"), "{said}");
        let said = put(&dir.path().join("n".repeat(300)), b"").unwrap_err().to_string();
        assert!(said.contains("shorter name"), "{said}");
        assert!(names(dir.path()).is_empty());
    }

    /// What the system itself says of a full disk: its device that is always full.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_disk_that_is_really_full() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("marks.csv");
        put(&path, b"old").unwrap();
        let full = put_with(&path, |_| {
            let mut device = std::fs::OpenOptions::new().write(true).open("/dev/full")?;
            device.write_all(b"new")
        });
        let said = full.unwrap_err().to_string();
        assert!(said.contains("free space there"), "{said}");
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(names(dir.path()), ["marks.csv"]);
    }
}
