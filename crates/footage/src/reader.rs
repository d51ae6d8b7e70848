//! Opening footage and reading it frame by frame, to the last one.

use crate::field_splitter::FieldSplitter;
use crate::film::Film;
use crate::random::spans::Spans;
use crate::sequence::Sequence;
use crate::source::Source;
use crate::{FaultKind, FootageError, FootageFault, FootageInfo, Frame, FrameIndex, ReadOptions};
use std::path::{Path, PathBuf};
use std::sync::Arc;

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
    let mut source = match Source::find(base, footage)? {
        Source::Film(path) => Footage::Film(Box::new(Film::open(path, options)?)),
        Source::Stills(files) => Footage::Stills(Box::new(Sequence::open(files, options)?)),
    };
    let (mut info, half_ticks) = match &source {
        Footage::Film(film) => (film.info.clone(), film.half_ticks),
        Footage::Stills(stills) => (stills.info.clone(), None),
    };
    let fields = FieldSplitter::begin(options.fields, half_ticks, &mut info)?;
    if let Footage::Film(film) = &mut source
        && fields.is_some()
    {
        film.faults.retain(|fault| fault.kind != FaultKind::Interlaced);
    }
    Ok(Reader { source, fields, spans: None, info })
}

/// Opens footage for reading in order as [`open`] does. Films whose decoder works on one thread only are decoded in spans
/// on several, for which the index is needed; the others share out their work in [`open`] already.
/// Frames are the same, bit for bit.
///
/// # Errors
/// As [`open`]; [`FootageError::OtherFootage`] when the size of the files is not that of the index.
pub fn frames(
    base: &Path,
    footage: &str,
    index: Option<&Arc<FrameIndex>>,
    options: &ReadOptions,
) -> Result<Reader, FootageError> {
    let mut reader = open(base, footage, options)?;
    if let Some(index) = index.filter(|index| index.head.fields == reader.info.fields_read)
        && matches!(&reader.source, Footage::Film(film) if !film.shares_work())
    {
        reader.spans = Spans::begin(base, footage, index, options)?;
    }
    Ok(reader)
}

/// Footage being read. Memory does not grow with its length. It may be moved to a decoding thread.
pub struct Reader {
    source: Footage,
    fields: Option<FieldSplitter>,
    /// Other threads that decode instead of `source`.
    spans: Option<Spans>,
    info: FootageInfo,
}

enum Footage {
    Film(Box<Film>),
    Stills(Box<Sequence>),
}

impl Reader {
    /// What is known of the footage.
    #[must_use]
    pub fn info(&self) -> &FootageInfo {
        &self.info
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
        if let Some(spans) = &mut self.spans {
            return spans.next_frame();
        }
        let source = &mut self.source;
        let mut whole = || match source {
            Footage::Film(film) => film.next_frame(),
            Footage::Stills(stills) => stills.next_frame(),
        };
        match &mut self.fields {
            Some(fields) => fields.next_field(&mut whole),
            None => whole(),
        }
    }

    /// How many pictures the container's edit list has hidden so far: they are decoded, but neither shown nor numbered.
    #[must_use]
    pub fn n_hidden(&self) -> u64 {
        match &self.source {
            Footage::Film(film) => film.decoding.n_hidden,
            Footage::Stills(_) => 0,
        }
    }

    /// Faults that frames do not show by themselves: lost data, fields, pixel aspect, turning. Complete after the last frame.
    #[must_use]
    pub fn faults(&self) -> &[FootageFault] {
        match &self.source {
            Footage::Film(film) => &film.faults,
            Footage::Stills(stills) => &stills.faults,
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
