//! What a film's pieces follow from, as a short key: pieces of anything else are never taken for them.

use crate::prepared::Prepared;
use crate::{MarkedError, MarkedOptions};
use filmgauge_footage::ColourFilm;
use std::path::Path;

/// Number of the way in which pieces are drawn and coded; a new one makes all of them again.
const FORM: u32 = 1;
/// Letters of a key.
const LETTERS: usize = 16;

/// The key: inputs, the results that are drawn, options, and the program's version. Threads are not in it.
pub(crate) fn key(
    prepared: &Prepared,
    results: &Path,
    options: &MarkedOptions,
    film: &ColourFilm,
) -> Result<String, MarkedError> {
    let mut told = vec![format!("form {FORM}"), env!("CARGO_PKG_VERSION").to_owned()];
    told.extend(prepared.provenance.inputs.iter().map(|input| format!("{} {}", input.path, input.blake3)));
    let camera = filmgauge_shelf::file_name(prepared.camera.id.as_str());
    let drawing = format!("drawing-{camera}.json");
    for name in ["marks.csv", "gaps.csv", "events.csv", "panels.json", &drawing] {
        let path = results.join(name);
        let hashed = filmgauge_shelf::hashed(&path);
        let (_, hash) = hashed.map_err(|source| MarkedError::Folder { path, source })?;
        told.push(format!("{name} {hash}"));
    }
    let plain = MarkedOptions { threads: None, ..options.clone() };
    told.push(format!("{plain:?} {:?} {film:?}", prepared.frames));
    let mut hash = blake3::hash(told.join("\n").as_bytes()).to_hex().to_string();
    hash.truncate(LETTERS);
    Ok(hash)
}
