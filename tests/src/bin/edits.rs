//! Edits a dossier until it is killed: folder, wait before files are written (ms), longest pause (ms), seed.

use anyhow::{Context, Result};
use filmgauge_tests::edits::{Pace, edit_until_killed};
use std::path::PathBuf;
use std::time::Duration;

fn main() -> Result<()> {
    let mut words = std::env::args().skip(1);
    let folder = PathBuf::from(words.next().context("the first word is the dossier's folder")?);
    let mut number = |what: &str| -> Result<u64> {
        let word = words.next().with_context(|| format!("the number is missing: {what}"))?;
        word.parse().with_context(|| format!("{word} is no number: {what}"))
    };
    let pace = Pace {
        autosave_after: Duration::from_millis(number("wait before files are written, ms")?),
        longest_pause: Duration::from_millis(number("longest pause between edits, ms")?),
        seed: number("seed")?,
    };
    edit_until_killed(&folder, pace, &mut std::io::stdout())
}
