//! Passes over films kept on disk, so that a run that was stopped follows no film twice.

use super::film::Pass;
use crate::options::KeepPasses;
use filmgauge_footage::{FootageError, IdentityJob};
use filmgauge_quantities::CameraId;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Length of a BLAKE3 hash, bytes.
const HASH: usize = 32;

/// The frame index as its own text: one form of it on disk.
pub(super) mod index_text {
    use filmgauge_footage::FrameIndex;
    use serde::de::Error as _;
    use serde::ser::Error as _;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(in crate::run) fn serialize<S: Serializer>(index: &FrameIndex, to: S) -> Result<S::Ok, S::Error> {
        index.to_text().map_err(S::Error::custom)?.serialize(to)
    }

    pub(in crate::run) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<FrameIndex, D::Error> {
        let text = String::deserialize(from)?;
        FrameIndex::from_text(&text).map_err(|(line, what)| D::Error::custom(format!("line {line}: {what}")))
    }
}

/// The place of one camera's kept pass, and what the pass rests on.
pub(super) struct Kept {
    path: PathBuf,
    recipe: [u8; HASH],
}

impl Kept {
    /// `recipe` says, to the last digit, all that the pass rests on besides the content of the footage.
    pub(super) fn new(keep: &KeepPasses, camera: &CameraId, recipe: &str) -> Self {
        let name = filmgauge_shelf::file_name(camera.as_str());
        let recipe = format!("{}\n{recipe}", keep.software);
        Self {
            path: keep.folder.join(format!("{name}.pass")),
            recipe: blake3::hash(recipe.as_bytes()).into(),
        }
    }

    /// The kept pass of this recipe over `files`, where there is one: anything else, older or damaged, counts as none.
    ///
    /// # Errors
    /// [`FootageError`] when the footage cannot be read.
    pub(super) fn find(&self, files: &[PathBuf]) -> Result<Option<Pass>, FootageError> {
        let Some(pass) = self.read() else { return Ok(None) };
        let identity = IdentityJob::begin(files).finish()?;
        Ok((pass.index.head.identity == identity).then_some(pass))
    }

    fn read(&self) -> Option<Pass> {
        let bytes = std::fs::read(&self.path).ok()?;
        let (recipe, rest) = bytes.split_at_checked(HASH)?;
        let (hash, body) = rest.split_at_checked(HASH)?;
        let whole = recipe == self.recipe && hash == blake3::hash(body).as_bytes();
        if whole { postcard::from_bytes(body).ok() } else { None }
    }

    /// Keeps `pass`. Where that fails, as in a folder that is not ours to write, the next run only takes longer.
    pub(super) fn put(&self, pass: &Pass) {
        let Ok(body) = postcard::to_stdvec(pass) else { return };
        let Some(folder) = self.path.parent() else { return };
        let write = |path: &Path| {
            filmgauge_shelf::make_folder(folder)?;
            filmgauge_shelf::put_with(path, |file| {
                file.write_all(&self.recipe)?;
                file.write_all(blake3::hash(&body).as_bytes())?;
                file.write_all(&body)
            })
        };
        let _ = write(&self.path);
    }
}
