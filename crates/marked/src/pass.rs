//! One pass over the footage, as in measuring: frames in order, proved by the index, drawn several at a time.

use crate::MarkedError;
use crate::prepared::Prepared;
use filmgauge_dossier::Dossier;
use filmgauge_footage::{Frame, FrameRecord, ReadOptions};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::mpsc::SyncSender;

/// Frames drawn at a time, for each thread.
const AT_ONCE: usize = 2;

/// Red, green and blue of a picture, row by row.
pub(crate) type Drawn = Result<Vec<u8>, MarkedError>;

/// Draws the frames of `wanted`, in order, until nobody takes them any more. The last that is sent may be an error.
pub(crate) fn draw_wanted(
    (dossier, prepared): (&Dossier, &Prepared),
    wanted: &[Range<u32>],
    pool: &rayon::ThreadPool,
    sender: &SyncSender<Drawn>,
) {
    if let Err(fault) = pass((dossier, prepared), wanted, pool, sender) {
        // Nobody waits for the reason any more.
        let _ = sender.send(Err(fault));
    }
}

fn pass(
    (dossier, prepared): (&Dossier, &Prepared),
    wanted: &[Range<u32>],
    pool: &rayon::ThreadPool,
    sender: &SyncSender<Drawn>,
) -> Result<(), MarkedError> {
    let Some(end) = wanted.last().map(|range| range.end) else { return Ok(()) };
    let threads = pool.current_num_threads();
    let read = ReadOptions {
        fields: prepared.camera.fields,
        threads: threads.clamp(1, 16),
        ..ReadOptions::default()
    };
    let index = Some(&prepared.index);
    let mut reader = filmgauge_footage::frames(&dossier.root, &prepared.camera.footage, index, &read)?;
    let mut batch = Vec::new();
    for number in 0..end {
        let frame = reader.next_frame()?;
        let frame = frame.filter(|frame| frame.number.0 == number).ok_or_else(|| other(prepared, number))?;
        if wanted.iter().any(|range| range.contains(&number)) {
            batch.push(frame);
        }
        let is_full = batch.len() == AT_ONCE * threads || number + 1 == end;
        if is_full && !sent(prepared, &std::mem::take(&mut batch), pool, sender) {
            return Ok(());
        }
    }
    Ok(())
}

/// Draws a few frames at once and sends them in order; false when nobody takes them or one failed.
fn sent(prepared: &Prepared, batch: &[Frame], pool: &rayon::ThreadPool, sender: &SyncSender<Drawn>) -> bool {
    let drawn: Vec<Drawn> = pool.install(|| batch.par_iter().map(|frame| drawn(prepared, frame)).collect());
    drawn.into_iter().all(|picture| {
        let failed = picture.is_err();
        sender.send(picture).is_ok() && !failed
    })
}

/// The marked picture of a frame that is the one that was measured.
fn drawn(prepared: &Prepared, frame: &Frame) -> Drawn {
    let number = frame.number.0;
    let measured = prepared.index.frames.get(number as usize);
    // What a decoder makes up for damage may differ from one reading to the next.
    let is_same = measured.is_some_and(|measured| {
        frame.damaged || measured.damaged || measured.hash == FrameRecord::of(frame).hash
    });
    if !is_same {
        return Err(other(prepared, number));
    }
    let is_damaged = frame.damaged || measured.is_some_and(|measured| measured.damaged);
    let picture = prepared.drawn.picture(number, &frame.picture.view(), prepared.rows(number), is_damaged)?;
    Ok(picture.rgb)
}

pub(crate) fn other(prepared: &Prepared, frame: u32) -> MarkedError {
    MarkedError::OtherPicture { camera: prepared.camera.id.to_string(), frame }
}
