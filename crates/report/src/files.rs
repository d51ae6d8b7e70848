//! Writes the results folder: each file appears whole or not at all, large ones as they are made.

use crate::ReportError;
use crate::conventions::conventions;
use crate::finite::check_finite;
use crate::formats::{csv, parquet, tables_json, workbook};
use crate::pdf::sheet_pdf;
use crate::sheet::sheet_by;
use crate::tables::{Table, with_tables};
use crate::template::{STYLE_FILE, TEMPLATE_FILE};
use filmgauge_results::{InputKind, KEPT_TEMPLATE, Results};
use filmgauge_shelf as shelf;
use serde::Serialize;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Files in order.
    pub paths: Vec<PathBuf>,
    /// What is wrong with the lab's template, with file and line; `None` when there is none or it works.
    pub template_fault: Option<String>,
}

/// Writes everything into `dir`, which is made if missing: findings, crosscheck, clocks and provenance as JSON, every
/// table as CSV and as Parquet, all tables as one JSON file and as a workbook, the sheet as HTML and as PDF, each film's frame index, and
/// what its marked film is drawn from: curves and drawings as JSON.
/// The same results give the same bytes. `template` is a folder with a lab's own template or style of the page; one that
/// does not work is told of, and the page is made with the built-in one. One that the provenance names in [`KEPT_TEMPLATE`]
/// is kept in the folder `template`.
///
/// # Errors
/// [`ReportError::NotFinite`] when a number is NaN or infinite (nothing is written then);
/// [`ReportError::Write`] when the folder or a file cannot be written (files already replaced stay replaced).
pub fn write_results(dir: &Path, results: &Results, template: Option<&Path>) -> Result<Written, ReportError> {
    check_finite(results)?;
    let (sheet, template_fault) = sheet_by(results, template)?;
    let on_paper = sheet_pdf(results)?;
    shelf::make_folder(dir).map_err(|source| write_error("make the folder", dir, source))?;
    let mut folder = Folder { dir, written: Vec::new() };
    folder.json("findings.json", &results.findings)?;
    folder.json("crosscheck.json", &results.crosschecks)?;
    folder.json("clocks.json", &results.clocks)?;
    folder.json("provenance.json", &results.provenance)?;
    folder.put("sheet.html", |file| file.write_all(sheet.as_bytes()))?;
    folder.put("sheet.pdf", |file| file.write_all(&on_paper))?;
    with_tables(results, |tables| folder.tables(results, tables))?;
    for table in &results.frame_tables {
        let name = format!("frames-{}.txt", shelf::file_name(&table.camera));
        folder.put(&name, |file| file.write_all(table.text.as_bytes()))?;
    }
    for drawing in &results.drawings {
        folder.streamed(&drawing_file(&drawing.camera), drawing)?;
    }
    folder.streamed(PANELS_FILE, &results.panels)?;
    keep_template(dir, results, template)?;
    Ok(Written { paths: folder.written, template_fault })
}

/// Keeps the template that was given for this measurement where its provenance names it, and no other.
fn keep_template(dir: &Path, results: &Results, template: Option<&Path>) -> Result<(), ReportError> {
    let kept = dir.join("template");
    let is_kept = |name: &str| {
        let place = format!("{KEPT_TEMPLATE}/{name}");
        results.provenance.inputs.iter().any(|input| input.kind == InputKind::Template && input.path == place)
    };
    for name in [TEMPLATE_FILE, STYLE_FILE] {
        let to = kept.join(name);
        match template.filter(|_| is_kept(name)) {
            Some(given) => {
                let from = given.join(name);
                let bytes = std::fs::read(&from).map_err(|source| write_error("read", &from, source))?;
                shelf::make_folder(&kept).map_err(|source| write_error("make the folder", &kept, source))?;
                write_file(&to, &bytes)?;
            }
            // The template of an older measurement.
            None if to.is_file() => {
                std::fs::remove_file(&to).map_err(|source| write_error("remove", &to, source))?;
            }
            None => {}
        }
    }
    // Only an empty one goes; a lab's own files in it stay.
    let _ = std::fs::remove_dir(&kept);
    Ok(())
}

/// Writes one file: it is either the old one or the new one, never half of one.
///
/// # Errors
/// [`ReportError::Write`] when it cannot be written.
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    shelf::put(path, bytes).map_err(|source| write_error("write", path, source))
}

/// Curves of the sheet with their bands.
pub(crate) const PANELS_FILE: &str = "panels.json";

/// What is drawn over a camera's film besides its marks.
pub(crate) fn drawing_file(camera: &str) -> String {
    format!("drawing-{}.json", shelf::file_name(camera))
}

/// The folder, and what was written into it.
struct Folder<'a> {
    dir: &'a Path,
    written: Vec<PathBuf>,
}

impl Folder<'_> {
    fn put(
        &mut self,
        name: &str,
        write: impl FnOnce(&mut File) -> std::io::Result<()>,
    ) -> Result<(), ReportError> {
        let path = self.dir.join(name);
        shelf::put_with(&path, write).map_err(|source| write_error("write", &path, source))?;
        self.written.push(path);
        Ok(())
    }

    fn json<T: Serialize + ?Sized>(&mut self, name: &'static str, content: &T) -> Result<(), ReportError> {
        let mut bytes = serde_json::to_vec_pretty(content).map_err(|fault| ReportError::make(name, fault))?;
        bytes.push(b'\n');
        self.put(name, |file| file.write_all(&bytes))
    }

    /// Written as it goes, on one line: these grow with the film.
    fn streamed<T: Serialize + ?Sized>(&mut self, name: &str, content: &T) -> Result<(), ReportError> {
        self.put(name, |file| {
            let mut out = BufWriter::new(file);
            serde_json::to_writer(&mut out, content)?;
            out.write_all(b"\n")?;
            out.flush()
        })
    }

    fn tables(&mut self, results: &Results, tables: &[Table<'_>]) -> Result<(), ReportError> {
        let told = conventions(results);
        for table in tables {
            self.put(&format!("{}.csv", table.name), |file| csv(table, file))?;
            self.put(&format!("{}.parquet", table.name), |file| parquet(table, &told, file))?;
        }
        self.put("tables.json", |file| tables_json(results, tables, BufWriter::new(file)))?;
        self.put("results.xlsx", |file| workbook(results, tables, file))
    }
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
    fn every_file_whole_and_repeatable() {
        let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let results = fixture::results();
        let paths = write_results(&first.path().join("results"), &results, None).unwrap().paths;
        let again = write_results(second.path(), &results, None).unwrap().paths;
        let names: Vec<_> = paths.iter().map(|path| path.file_name().unwrap().to_str().unwrap()).collect();
        let tables = ["findings", "budgets", "crosscheck", "events", "gaps", "motion", "marks", "steady"];
        let mut expected: Vec<String> =
            ["findings.json", "crosscheck.json", "clocks.json", "provenance.json", "sheet.html", "sheet.pdf"]
                .map(str::to_owned)
                .into();
        expected.extend(tables.iter().flat_map(|table| [format!("{table}.csv"), format!("{table}.parquet")]));
        expected.extend(
            ["tables.json", "results.xlsx", "frames-side.txt", "drawing-side.json", "panels.json"]
                .map(str::to_owned),
        );
        assert_eq!(names, expected);
        for (one, other) in paths.iter().zip(&again) {
            assert_eq!(std::fs::read(one).unwrap(), std::fs::read(other).unwrap(), "{}", one.display());
        }
        assert_eq!(
            std::fs::read_dir(second.path()).unwrap().count(),
            expected.len(),
            "no temporary file is left"
        );
        write_results(second.path(), &results, None).expect("older results are replaced");
    }

    #[test]
    fn a_camera_whose_name_is_a_path_stays_in_the_folder() {
        let dir = tempfile::tempdir().unwrap();
        let mut results = fixture::results();
        results.frame_tables[0].camera = format!("../{}", "long".repeat(100));
        let written = write_results(dir.path(), &results, None).unwrap().paths;
        assert!(written.iter().all(|path| path.parent() == Some(dir.path())), "{written:?}");
    }

    #[test]
    fn json_files_read_back_as_they_were() {
        let dir = tempfile::tempdir().unwrap();
        let results = fixture::results();
        write_results(dir.path(), &results, None).unwrap();
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
        let fault = write_results(dir.path(), &results, None).unwrap_err().to_string();
        assert!(fault.contains("finding contact_speed of car: uncertainty is NaN"), "{fault}");
        let mut results = fixture::results();
        results.motion[1].u_y_m = Some(f64::INFINITY);
        let fault = write_results(dir.path(), &results, None).unwrap_err().to_string();
        assert!(fault.contains("motion row 1 (side car): u_y_m is inf"), "{fault}");
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_folder_that_cannot_be_is_said_to_be_so() {
        let dir = tempfile::tempdir().unwrap();
        let in_the_way = dir.path().join("results");
        std::fs::write(&in_the_way, "a file").unwrap();
        let fault = write_results(&in_the_way, &fixture::results(), None).unwrap_err();
        assert!(matches!(fault, ReportError::Write { doing: "make the folder", .. }), "{fault}");
    }
}
