//! Edits, undo, recovery and locks, against files in temporary folders.

mod acts;
mod full_disk;
mod newer;
mod recovery;
mod replay;
mod torn;

use crate::{Edit, PathStep, Pick, Value, Workbook, WorkbookOptions};
use std::fs;
use std::path::Path;

const START: &str = "# mine\nschema = 1\n[test]\nid = \"A\" # short\ntitle = \"t\"\n\n[[camera]]\nid = \"side\"\nfootage = \"a.avi\"\n";

fn folder() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("dossier.toml"), START).unwrap();
    dir
}

fn opened(dir: &Path) -> (Workbook, Vec<crate::OpeningNote>) {
    Workbook::open(dir, WorkbookOptions::default()).unwrap()
}

fn key(name: &str) -> PathStep {
    PathStep::Key(name.into())
}

fn title(text: &str) -> Edit {
    Edit::Set { path: vec![key("test"), key("title")], value: Value::from(text) }
}

fn pick(frame: u32, x_px: f64) -> Edit {
    let pick = Pick { frame, target: "C1".into(), x_px, y_px: 2.5, sx_px: None, sy_px: None, operator: None };
    Edit::PutPick { camera: "side".into(), pick }
}

fn speed(per_s: f64) -> Edit {
    let path = ["speed", "frames_per_s"].map(key);
    let path = [key("camera"), PathStep::Item(0)].into_iter().chain(path).collect();
    Edit::Set { path, value: Value::from(per_s) }
}
