//! A piece of a film: coded pictures that need none outside, in a file of our own that appears whole or not at all.

use super::ColourFilm;
use super::coder::{Coded, Coder};
use crate::FootageError;
use std::fs::File;
use std::io::{BufReader, BufWriter, Error, ErrorKind, Read, Write};
use std::path::Path;

/// First bytes of every piece.
const HEAD: &[u8; 8] = b"fgpiece1";
/// What comes next: a picture that needs others of its piece, one that needs none, or the end.
const NEEDS_OTHERS: u8 = 0;
const KEY: u8 = 1;
const END: u8 = 2;
/// No coded picture is larger, bytes; anything beyond is damage.
const MOST_BYTES: u32 = 1 << 30;

/// Codes pictures into the piece `path` until `next` has no more, and tells how many they were. Each is red, green and
/// blue row by row.
///
/// # Errors
/// Whatever `next` fails with, and [`FootageError`] when a picture cannot be coded or the file cannot be written; nothing
/// is left at `path` then.
pub fn write_piece<E: From<FootageError>>(
    path: &Path,
    film: &ColourFilm,
    mut next: impl FnMut() -> Result<Option<Vec<u8>>, E>,
) -> Result<u32, E> {
    let mut coder = Coder::open(film)?;
    let mut n_pictures = 0;
    let mut failed: Option<E> = None;
    let written = filmgauge_shelf::put_with(path, |file| {
        let mut out = Hashed { inner: BufWriter::new(file), hasher: blake3::Hasher::new() };
        out.write_all(HEAD)?;
        loop {
            let coded = match next() {
                Ok(Some(picture)) => {
                    n_pictures += 1;
                    coder.put(&picture)
                }
                Ok(None) => break,
                Err(fault) => {
                    failed = Some(fault);
                    return Err(ErrorKind::Interrupted.into());
                }
            };
            put_coded(&mut out, coded)?;
        }
        put_coded(&mut out, coder.rest())?;
        out.write_all(&[END])?;
        let hash = out.hasher.finalize();
        out.inner.write_all(hash.as_bytes())?;
        out.inner.flush()
    });
    match (failed, written) {
        (Some(fault), _) => Err(fault),
        (None, Err(error)) => Err(E::from(FootageError::write(path, &error))),
        (None, Ok(())) => Ok(n_pictures),
    }
}

fn put_coded(out: &mut impl Write, coded: Result<Vec<Coded>, FootageError>) -> Result<(), Error> {
    for picture in coded.map_err(Error::other)? {
        let bytes = u32::try_from(picture.data.len()).map_err(Error::other)?;
        out.write_all(&[if picture.key { KEY } else { NEEDS_OTHERS }])?;
        out.write_all(&bytes.to_le_bytes())?;
        out.write_all(&picture.data)?;
    }
    Ok(())
}

/// Whether `path` is a piece of `n_pictures` pictures that holds what was written.
#[must_use]
pub fn is_whole_piece(path: &Path, n_pictures: u32) -> bool {
    let Ok(mut piece) = PieceReader::open(path) else { return false };
    let mut n = 0;
    loop {
        match piece.next_picture() {
            Ok(Some(_)) => n += 1,
            Ok(None) => return n == n_pictures,
            Err(_) => return false,
        }
    }
}

/// Reads a piece picture by picture.
pub(super) struct PieceReader {
    file: BufReader<File>,
    hasher: blake3::Hasher,
}

impl PieceReader {
    pub(super) fn open(path: &Path) -> Result<Self, Error> {
        let mut reader = Self { file: BufReader::new(File::open(path)?), hasher: blake3::Hasher::new() };
        if reader.take(HEAD.len())? != HEAD {
            return Err(damaged());
        }
        Ok(reader)
    }

    /// The next coded picture; `None` after the last one of a whole piece.
    pub(super) fn next_picture(&mut self) -> Result<Option<Coded>, Error> {
        let kind = self.take(1)?[0];
        if kind == END {
            let hash = self.hasher.finalize();
            let mut stored = [0; 32];
            self.file.read_exact(&mut stored)?;
            return if hash == stored { Ok(None) } else { Err(damaged()) };
        }
        let bytes = self.take(4)?;
        let bytes = u32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]);
        if bytes > MOST_BYTES || kind > KEY {
            return Err(damaged());
        }
        let data = self.take(bytes as usize)?;
        Ok(Some(Coded { key: kind == KEY, data }))
    }

    fn take(&mut self, n: usize) -> Result<Vec<u8>, Error> {
        let mut bytes = Vec::new();
        // Grows as bytes come: a damaged length claims no memory.
        let read = self.file.by_ref().take(n as u64).read_to_end(&mut bytes)?;
        if read < n {
            return Err(damaged());
        }
        self.hasher.update(&bytes);
        Ok(bytes)
    }
}

fn damaged() -> Error {
    Error::new(ErrorKind::InvalidData, "the piece is damaged; remove it, it will be made again")
}

/// Writes on, and hashes what it writes.
struct Hashed<W> {
    inner: W,
    hasher: blake3::Hasher,
}

impl<W: Write> Write for Hashed<W> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Error> {
        let n = self.inner.write(bytes)?;
        self.hasher.update(&bytes[..n]);
        Ok(n)
    }
    fn flush(&mut self) -> Result<(), Error> {
        self.inner.flush()
    }
}
