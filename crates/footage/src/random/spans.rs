//! Reading in order on several threads: spans of frames that begin at key frames, each decoded on its own.

use super::lookup::{Lookup, frames_per_picture};
use super::{RandomOptions, RandomReader};
use crate::in_order::{InOrder, Work};
use crate::{FootageError, Frame, FrameIndex, ReadOptions};
use filmgauge_quantities::FrameNumber;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

/// Decoded pictures that all threads together may hold, bytes.
const MOST_BYTES: usize = 256 << 20;

/// Going to a key frame costs about as much as decoding a few frames, so spans are made no shorter than this.
const LEAST_FRAMES: u32 = 8;

/// Threads that each decode every n-th span.
pub(crate) struct Spans {
    frames: InOrder<Result<Frame, FootageError>>,
    failed: bool,
}

impl Spans {
    /// Begins, where it is worth it: `None` for one thread, for damaged films, whose faults only a reading in order
    /// tells, and where spans are too long for the memory.
    pub(crate) fn begin(
        base: &Path,
        footage: &str,
        index: &Arc<FrameIndex>,
        options: &ReadOptions,
    ) -> Result<Option<Self>, FootageError> {
        let spans = Arc::new(spans(index));
        let longest = spans.iter().map(ExactSizeIterator::len).max().unwrap_or(0);
        let frame_bytes =
            index.head.width_px * index.head.height_px * if index.head.bits > 8 { 2 } else { 1 };
        let too_much = longest.saturating_mul(frame_bytes).saturating_mul(options.threads) > MOST_BYTES;
        if options.threads < 2 || !index.head.sound || too_much || spans.len() < 2 {
            return Ok(None);
        }
        let read = ReadOptions { threads: 1, ..options.clone() };
        let random = RandomOptions { read, cache_bytes: 1 << 20, whole_check: false };
        let worker = |_| -> Result<Work<Result<Frame, FootageError>>, FootageError> {
            let reader = RandomReader::open(base, footage, Arc::clone(index), &random)?;
            Ok(decode_spans(reader, Arc::clone(&spans)))
        };
        let workers = (0..options.threads).map(worker).collect::<Result<Vec<_>, _>>()?;
        Ok(Some(Self { frames: InOrder::new(workers, spans.len(), longest), failed: false }))
    }

    pub(crate) fn next_frame(&mut self) -> Result<Option<Frame>, FootageError> {
        if self.failed {
            return Ok(None);
        }
        let next = self.frames.next().transpose();
        self.failed = next.is_err();
        next
    }
}

fn decode_spans(mut reader: RandomReader, spans: Arc<Vec<Range<u32>>>) -> Work<Result<Frame, FootageError>> {
    Box::new(move |job, put| {
        for number in spans.get(job).cloned().into_iter().flatten() {
            let frame = reader.take(FrameNumber(number));
            let failed = frame.is_err();
            if !put(frame) || failed {
                return;
            }
        }
    })
}

/// Frame numbers in runs of whole groups.
fn spans(index: &FrameIndex) -> Vec<Range<u32>> {
    let per_picture = frames_per_picture(index);
    let end = u32::try_from(index.len()).unwrap_or(u32::MAX);
    let lookup = Lookup::new(index);
    let mut starts: Vec<u32> = Vec::new();
    for first in lookup.groups().iter().map(|group| group.first * per_picture) {
        if starts.last().is_none_or(|last| first - last >= LEAST_FRAMES) {
            starts.push(first);
        }
    }
    let ends = starts.iter().skip(1).copied().chain([end]);
    starts.iter().zip(ends).map(|(&first, end)| first..end).collect()
}
