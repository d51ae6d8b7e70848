//! The reference venv: Python with the pinned peers that the reference tests compare with.

use crate::packages::works;
use crate::steps::{Steps, root};
use std::path::Path;
use std::process::Command;

/// Interpreters to try: the system's first, whose venv module comes with a package.
const INTERPRETERS: [&str; 2] = ["/usr/bin/python3", "python3"];

/// Makes the venv, or keeps it when its stamp equals the requirements.
pub(crate) fn ensure(steps: &mut Steps) -> Result<(), String> {
    let requirements = root().join("tests/reference/requirements.txt");
    let venv = root().join("target/reference-venv");
    let stamp = venv.join("requirements.stamp");
    let wanted = std::fs::read(&requirements)
        .map_err(|error| format!("{}: cannot be read ({error})", requirements.display()))?;
    if std::fs::read(&stamp).is_ok_and(|found| found == wanted) && venv.join("bin/python").exists() {
        return Ok(());
    }
    let python = INTERPRETERS
        .into_iter()
        .find(|python| {
            works(python, &["-c", "import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))"])
        })
        .ok_or("no Python 3.11 or later with venv; install it (Debian: python3-venv)")?;
    remove(&venv)?;
    steps.run("reference venv", Command::new(python).args(["-m", "venv"]).arg(&venv))?;
    let mut install = Command::new(venv.join("bin/python"));
    install.args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--requirement"]);
    steps.run("reference packages", install.arg(&requirements))?;
    std::fs::write(&stamp, wanted)
        .map_err(|error| format!("{}: cannot be written ({error})", stamp.display()))
}

fn remove(folder: &Path) -> Result<(), String> {
    if folder.exists() {
        std::fs::remove_dir_all(folder)
            .map_err(|error| format!("{}: cannot be removed ({error})", folder.display()))?;
    }
    Ok(())
}
