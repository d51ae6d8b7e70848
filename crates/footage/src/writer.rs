//! Writing footage: under a temporary name, renamed when finished; the same pictures give the same bytes.

use crate::film_writer::FilmWriter;
use crate::{Encoding, FootageError, write_png};
use filmgauge_quantities::GreyView;
use std::path::{Path, PathBuf};

/// Footage being written. Dropped before [`Writer::finish`], it leaves nothing behind.
pub struct Writer {
    path: PathBuf,
    partial: PathBuf,
    size: (usize, usize, u8),
    target: Option<Target>,
    written: u32,
    finished: bool,
}

enum Target {
    Stills,
    Film(Box<FilmWriter>),
}

impl Writer {
    /// Begins footage of `width` x `height` px at `bits` bits.
    ///
    /// `path` is a film file (`.mkv`, `.mp4`, `.mov`, `.avi`) or, for a sequence, a folder that gets the stills
    /// `000000.png`, `000001.png`, and so on. `frames_per_s_playback` is the rate that players use, not the film
    /// speed. A finished film replaces one of the same name; a folder with files in it is never replaced.
    ///
    /// # Errors
    /// [`FootageError::Settings`] when the coding cannot hold such pictures,
    /// [`FootageError::Write`] when the place cannot be written to.
    pub fn create(
        path: &Path,
        width: usize,
        height: usize,
        bits: u8,
        encoding: Encoding,
        frames_per_s_playback: u32,
    ) -> Result<Self, FootageError> {
        check(width, height, frames_per_s_playback)?;
        let partial = partial_name(path)?;
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| FootageError::write(folder, &error))?;
        }
        let target = if encoding == Encoding::PngSequence {
            begin_folder(path, &partial, bits)?;
            Target::Stills
        } else {
            let film = FilmWriter::create(&partial, width, height, bits, encoding, frames_per_s_playback)?;
            Target::Film(Box::new(film))
        };
        let (path, size) = (path.to_path_buf(), (width, height, bits));
        Ok(Self { path, partial, size, target: Some(target), written: 0, finished: false })
    }

    /// Writes the next picture.
    ///
    /// # Errors
    /// [`FootageError::SizeChanged`] when size or bits differ from those at the start; [`FootageError::Write`] when the
    /// disk is full or the encoder refuses.
    pub fn put(&mut self, picture: &GreyView<'_>) -> Result<(), FootageError> {
        let size = (picture.width(), picture.height(), picture.bits());
        if size != self.size {
            let words = |(w, h, bits): (usize, usize, u8)| format!("{w} x {h} px, {bits} bits");
            return Err(FootageError::SizeChanged {
                path: self.path.clone(),
                frame: filmgauge_quantities::FrameNumber(self.written),
                expected: words(self.size),
                found: words(size),
            });
        }
        match &mut self.target {
            Some(Target::Stills) => {
                write_png(&self.partial.join(format!("{:06}.png", self.written)), picture)?;
            }
            Some(Target::Film(film)) => film.put(picture, i64::from(self.written))?,
            None => {}
        }
        self.written += 1;
        Ok(())
    }

    /// Completes the footage and gives it its name.
    ///
    /// # Errors
    /// [`FootageError::Write`] when the rest cannot be written or the name cannot be given.
    pub fn finish(mut self) -> Result<(), FootageError> {
        match self.target.take() {
            Some(Target::Film(film)) => film.finish()?,
            // An empty folder of the same name may stand in the way.
            Some(Target::Stills) if self.path.is_dir() => {
                std::fs::remove_dir(&self.path).map_err(|error| FootageError::write(&self.path, &error))?;
            }
            _ => {}
        }
        std::fs::rename(&self.partial, &self.path)
            .map_err(|error| FootageError::write(&self.path, &error))?;
        self.finished = true;
        Ok(())
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        self.target = None;
        if !self.finished {
            // Best effort: what cannot be removed keeps a name that no reader takes for footage.
            let _ = if self.partial.is_dir() {
                std::fs::remove_dir_all(&self.partial)
            } else {
                std::fs::remove_file(&self.partial)
            };
        }
    }
}

fn check(width: usize, height: usize, rate: u32) -> Result<(), FootageError> {
    if !(1..=32_768).contains(&width) || !(1..=32_768).contains(&height) {
        let text = format!("pictures to write must be 1 to 32768 px wide and high, not {width} x {height}");
        return Err(FootageError::Settings { text });
    }
    if !(1..=100_000).contains(&rate) {
        let text = format!("the playback rate must be 1 to 100000 frames per second, not {rate}");
        return Err(FootageError::Settings { text });
    }
    Ok(())
}

/// A hidden neighbour with the same ending, from which the kind of container is told.
fn partial_name(path: &Path) -> Result<PathBuf, FootageError> {
    match path.file_name().and_then(|name| name.to_str()) {
        Some(name) => Ok(path.with_file_name(format!(".partial.{name}"))),
        None => Err(FootageError::write(path, &"the name is missing or not valid Unicode; give another one")),
    }
}

fn begin_folder(path: &Path, partial: &Path, bits: u8) -> Result<(), FootageError> {
    if !(1..=16).contains(&bits) {
        return Err(FootageError::Settings { text: format!("PNG stills hold 1 to 16 bits, not {bits}") });
    }
    if std::fs::read_dir(path).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(FootageError::write(
            path,
            &"the folder has files in it; remove them or choose another name",
        ));
    }
    if partial.is_dir() {
        std::fs::remove_dir_all(partial).map_err(|error| FootageError::write(partial, &error))?;
    }
    std::fs::create_dir_all(partial).map_err(|error| FootageError::write(partial, &error))
}
