//! Writes the results folder: everything is made in memory first, then each file appears whole or not at all.

use crate::ReportError;
use crate::finite::check_finite;
use crate::sheet::sheet_html;
use crate::tables::{events_csv, gaps_csv, marks_csv, motion_csv, steady_csv};
use filmgauge_results::Results;
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Writes marks, motion, findings, crosscheck, gaps, events, clocks, steps, provenance, the sheet and each film's frame index into `dir`, which is made if missing.
/// Returns the paths in that order. The same results give the same bytes.
///
/// # Errors
/// [`ReportError::NotFinite`] when a number is NaN or infinite (nothing is written then);
/// [`ReportError::Write`] when the folder or a file cannot be written (files already replaced stay replaced).
pub fn write_results(dir: &Path, results: &Results) -> Result<Vec<PathBuf>, ReportError> {
    check_finite(results)?;
    let mut files: Vec<(String, Vec<u8>)> = [
        ("marks.csv", marks_csv(&results.marks)?),
        ("motion.csv", motion_csv(&results.motion)?),
        ("findings.json", json("findings.json", &results.findings)?),
        ("crosscheck.json", json("crosscheck.json", &results.crosschecks)?),
        ("gaps.csv", gaps_csv(&results.gaps)?),
        ("events.csv", events_csv(&results.events)?),
        ("clocks.json", json("clocks.json", &results.clocks)?),
        ("steady.csv", steady_csv(&results.steps)?),
        ("provenance.json", json("provenance.json", &results.provenance)?),
        ("sheet.html", sheet_html(results)?.into_bytes()),
    ]
    .map(|(name, bytes)| (name.to_owned(), bytes))
    .into();
    let tables = results.frame_tables.iter();
    files.extend(
        tables.map(|table| (format!("frames-{}.txt", table.camera), table.text.clone().into_bytes())),
    );
    std::fs::create_dir_all(dir).map_err(|source| write_error("make the folder", dir, source))?;
    let mut written = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        let path = dir.join(&name);
        replace(dir, &path, &bytes).map_err(|source| write_error("write", &path, source))?;
        written.push(path);
    }
    sync_folder(dir).map_err(|source| write_error("finish writing in", dir, source))?;
    Ok(written)
}

/// Writes one file: it is either the old one or the new one, never half of one.
///
/// # Errors
/// [`ReportError::Write`] when it cannot be written.
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    replace(folder, path, bytes).map_err(|source| write_error("write", path, source))
}

fn json<T: Serialize + ?Sized>(what: &'static str, content: &T) -> Result<Vec<u8>, ReportError> {
    let mut bytes = serde_json::to_vec_pretty(content).map_err(|fault| ReportError::make(what, fault))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// A temporary file in the same folder, synced, then renamed: a power cut leaves the old file or the new one.
fn replace(dir: &Path, path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: the user's own mask decides.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.prefix(".filmgauge-").tempfile_in(dir)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(path).map_err(|fault| fault.error)?;
    Ok(())
}

#[cfg(unix)]
fn sync_folder(dir: &Path) -> std::io::Result<()> {
    std::fs::File::open(dir)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_dir: &Path) -> std::io::Result<()> {
    Ok(())
}

fn write_error(doing: &'static str, path: &Path, source: std::io::Error) -> ReportError {
    ReportError::Write { doing, path: path.to_owned(), source }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use filmgauge_results::{CrosscheckResult, Finding, Provenance};

    #[test]
    fn eleven_files_whole_and_repeatable() {
        let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let results = fixture::results();
        let paths = write_results(&first.path().join("results"), &results).unwrap();
        let again = write_results(second.path(), &results).unwrap();
        let names: Vec<_> = paths.iter().map(|path| path.file_name().unwrap().to_str().unwrap()).collect();
        assert_eq!(
            names,
            [
                "marks.csv",
                "motion.csv",
                "findings.json",
                "crosscheck.json",
                "gaps.csv",
                "events.csv",
                "clocks.json",
                "steady.csv",
                "provenance.json",
                "sheet.html",
                "frames-side.txt"
            ]
        );
        for (one, other) in paths.iter().zip(&again) {
            assert_eq!(std::fs::read(one).unwrap(), std::fs::read(other).unwrap(), "{}", one.display());
        }
        assert_eq!(std::fs::read_dir(second.path()).unwrap().count(), 11, "no temporary file is left");
        write_results(second.path(), &results).expect("older results are replaced");
    }

    #[test]
    fn json_files_read_back_as_they_were() {
        let dir = tempfile::tempdir().unwrap();
        let results = fixture::results();
        write_results(dir.path(), &results).unwrap();
        let read = |name: &str| std::fs::read_to_string(dir.path().join(name)).unwrap();
        let findings: Vec<Finding> = serde_json::from_str(&read("findings.json")).unwrap();
        let crosschecks: Vec<CrosscheckResult> = serde_json::from_str(&read("crosscheck.json")).unwrap();
        let provenance: Provenance = serde_json::from_str(&read("provenance.json")).unwrap();
        assert_eq!(findings, results.findings);
        assert_eq!(crosschecks, results.crosschecks);
        assert_eq!(provenance, results.provenance);
    }

    #[test]
    fn not_finite_is_refused_by_name_and_nothing_is_written() {
        let dir = tempfile::tempdir().unwrap();
        let mut results = fixture::results();
        results.findings[0].uncertainty = Some(f64::NAN);
        let fault = write_results(dir.path(), &results).unwrap_err().to_string();
        assert!(fault.contains("finding contact_speed of car: uncertainty is NaN"), "{fault}");
        let mut results = fixture::results();
        results.motion[1].u_y_m = Some(f64::INFINITY);
        let fault = write_results(dir.path(), &results).unwrap_err().to_string();
        assert!(fault.contains("motion row 1 (side car): u_y_m is inf"), "{fault}");
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_folder_that_cannot_be_is_said_to_be_so() {
        let dir = tempfile::tempdir().unwrap();
        let in_the_way = dir.path().join("results");
        std::fs::write(&in_the_way, "a file").unwrap();
        let fault = write_results(&in_the_way, &fixture::results()).unwrap_err();
        assert!(matches!(fault, ReportError::Write { doing: "make the folder", .. }), "{fault}");
    }
}
