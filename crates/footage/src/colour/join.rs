//! Pieces into one file: the coded pictures are copied as they are and numbered through.

use super::ColourFilm;
use super::coder::{Coded, Coder, picture_time};
use super::piece::PieceReader;
use crate::FootageError;
use crate::container::codec_name;
use ffmpeg_next::codec::packet::Flags;
use ffmpeg_next::{Dictionary, Error, Packet, Rational, format};
use std::path::{Path, PathBuf};

/// Joins pieces, in order, into the film `path`. It is written under a hidden name beside and gets its own when it is
/// whole; a film of that name is replaced. Tells how many pictures it has.
///
/// # Errors
/// [`FootageError`] for a piece that is damaged and for a file that cannot be written; nothing new is then at `path`.
pub fn join_pieces(pieces: &[PathBuf], film: &ColourFilm, path: &Path) -> Result<u64, FootageError> {
    let name = path.file_name().and_then(|name| name.to_str());
    let name = name.ok_or_else(|| {
        FootageError::write(path, &"the name is missing or not valid Unicode; give another one")
    })?;
    let partial = path.with_file_name(format!(".partial.{name}"));
    let joined = write(pieces, film, &partial).and_then(|n_pictures| {
        filmgauge_shelf::settle(&partial, path).map_err(|error| FootageError::write(path, &error))?;
        Ok(n_pictures)
    });
    if joined.is_err() {
        // Best effort: what cannot be removed keeps a name that no reader takes for a film.
        let _ = std::fs::remove_file(&partial);
    }
    joined
}

fn write(pieces: &[PathBuf], film: &ColourFilm, partial: &Path) -> Result<u64, FootageError> {
    let fails = |error: Error| FootageError::write(partial, &error);
    // Never fed: it tells the container how all pieces were coded.
    let coder = Coder::open(film)?;
    let mut output = format::output(&codec_name(partial)?).map_err(fails)?;
    let time = picture_time(film);
    let mut stream = output.add_stream_with(&coder.encoder).map_err(fails)?;
    stream.set_time_base(time);
    stream.set_avg_frame_rate(time.invert());
    let about = [("title", film.title.as_str()), ("comment", film.comment.as_str())];
    output.set_metadata(about.into_iter().collect());
    let exact: Dictionary<'_> = [("fflags", "+bitexact")].into_iter().collect();
    output.write_header_with(exact).map_err(fails)?;
    let stream_time = output.stream(0).map_or(time, |stream| stream.time_base());
    let mut n_pictures = 0_u64;
    for piece in pieces {
        let unreadable = |source| FootageError::Unreadable { path: piece.clone(), source };
        let mut reader = PieceReader::open(piece).map_err(unreadable)?;
        while let Some(coded) = reader.next_picture().map_err(unreadable)? {
            put(&mut output, &coded, n_pictures, (time, stream_time)).map_err(fails)?;
            n_pictures += 1;
        }
    }
    output.write_trailer().map_err(fails)?;
    Ok(n_pictures)
}

fn put(
    output: &mut format::context::Output,
    coded: &Coded,
    number: u64,
    (time, stream_time): (Rational, Rational),
) -> Result<(), Error> {
    let mut packet = Packet::copy(&coded.data);
    let number = i64::try_from(number).unwrap_or(i64::MAX);
    packet.set_stream(0);
    packet.set_pts(Some(number));
    packet.set_dts(Some(number));
    packet.set_duration(1);
    if coded.key {
        packet.set_flags(Flags::KEY);
    }
    packet.rescale_ts(time, stream_time);
    packet.write_interleaved(output)
}
