//! Opening footage and reading it frame by frame, to the last one.

use crate::film::Film;
use crate::sequence::Sequence;
use crate::source::Source;
use crate::{FootageError, FootageFault, FootageInfo, Frame, ReadOptions};
use std::path::{Path, PathBuf};

/// Opens footage and reads its first picture.
///
/// `footage` names a film file, a still, or a sequence of stills by a pattern with one `*` in the
/// file name (`side/*.png`), relative to `base`. Stills are ordered by the last number in what the `*` stands for.
///
/// # Errors
/// [`FootageError`] when nothing is there, when it is no footage, when its layout cannot be measured as
/// stored, when it exceeds the cap, or when a number is missing in a sequence.
pub fn open(base: &Path, footage: &str, options: &ReadOptions) -> Result<Reader, FootageError> {
    options.check()?;
    let source = match Source::find(base, footage)? {
        Source::Film(path) => Footage::Film(Box::new(Film::open(path, options)?)),
        Source::Stills(files) => Footage::Stills(Box::new(Sequence::open(files, options)?)),
    };
    Ok(Reader { source })
}

/// Footage being read. Memory does not grow with its length. It may be moved to a decoding thread.
pub struct Reader {
    source: Footage,
}

enum Footage {
    Film(Box<Film>),
    Stills(Box<Sequence>),
}

impl Reader {
    /// What is known of the footage.
    #[must_use]
    pub fn info(&self) -> &FootageInfo {
        match &self.source {
            Footage::Film(film) => &film.info,
            Footage::Stills(stills) => &stills.info,
        }
    }

    /// The files that make up the footage, in order.
    #[must_use]
    pub fn files(&self) -> &[PathBuf] {
        match &self.source {
            Footage::Film(film) => film.files(),
            Footage::Stills(stills) => stills.files(),
        }
    }

    /// The next frame in order of presentation; `None` after the last one.
    ///
    /// # Errors
    /// [`FootageError`] when the footage cannot be read on, or a frame differs in size or depth from the first.
    pub fn next_frame(&mut self) -> Result<Option<Frame>, FootageError> {
        match &mut self.source {
            Footage::Film(film) => film.next_frame(),
            Footage::Stills(stills) => stills.next_frame(),
        }
    }

    /// Faults that frames do not show by themselves: lost data, fields, pixel aspect, turning. Complete after the last frame.
    #[must_use]
    pub fn faults(&self) -> &[FootageFault] {
        match &self.source {
            Footage::Film(film) => &film.faults,
            Footage::Stills(_) => &[],
        }
    }
}

impl std::fmt::Debug for Reader {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reader").field("files", &self.files().len()).field("info", self.info()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_may_move_to_a_decoding_thread() {
        fn is_send<T: Send>() {}
        is_send::<Reader>();
    }
}
