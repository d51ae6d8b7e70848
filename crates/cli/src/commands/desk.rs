//! `desk`: opens the desktop application, which is a program of its own beside this one.

use crate::exit::Exit;
use anyhow::{Context, bail, ensure};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Name of the application's program.
const PROGRAM: &str = "filmgauge-desk";

pub(super) fn desk(dossier: Option<&Path>) -> anyhow::Result<Exit> {
    let program = program()?;
    let mut command = Command::new(&program);
    if let Some(dossier) = dossier {
        ensure!(dossier.exists(), "{} does not exist; nothing was opened", dossier.display());
        command.arg(dossier);
    }
    let ended = command.status().with_context(|| format!("{} did not start", program.display()))?;
    Ok(if ended.success() { Exit::Done } else { Exit::CouldNotRun })
}

/// The program beside this one.
fn program() -> anyhow::Result<PathBuf> {
    let own = std::env::current_exe().context("the folder of this program could not be found out")?;
    let name = format!("{PROGRAM}{}", std::env::consts::EXE_SUFFIX);
    let beside = own.with_file_name(name);
    if !beside.is_file() {
        bail!(
            "{} is not there. Install the desk beside this program; from the source: cargo build --release --package filmgauge-desktop",
            beside.display()
        );
    }
    Ok(beside)
}
