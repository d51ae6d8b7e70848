//! Any frame of a film: to a key packet, forward to the frame, proved by its hash; further back when it does not hold.

use super::cache::FrameCache;
use super::lookup::{Lookup, frames_per_picture};
use crate::film::Film;
use crate::library::SeekBy;
use crate::picture_hash::picture_hash;
use crate::{FieldOrder, FootageError, Frame, FrameIndex, KeyPlace, ReadOptions};
use filmgauge_quantities::FrameNumber;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Frames before the one asked for that are kept on the way to it; all of them when the reading goes backward.
const KEPT_BEFORE: u32 = 4;

/// As many frames ahead are decoded through rather than sought.
const DECODED_THROUGH: u32 = 4;

/// A film that is entered at key packets.
pub(crate) struct FilmAccess {
    film: Film,
    read: ReadOptions,
    lookup: Lookup,
    fields: Option<FieldOrder>,
    position: Position,
    /// Group → how many groups earlier decoding must begin, where that turned out to be needed.
    earlier: BTreeMap<usize, usize>,
}

/// What the next decoded picture is known to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Position {
    Nowhere,
    /// Pictures tell their number; those before `first_sound` lack what they are predicted from.
    Entered {
        first_sound: u32,
        last: Option<u32>,
    },
    /// Pictures are counted from the start of the film.
    Counted {
        next: u32,
    },
}

/// A frame asked for.
pub(crate) struct Request<'a> {
    pub(crate) frame: u32,
    /// The frames before it will be asked for next.
    pub(crate) goes_back: bool,
    /// Set when the frame is not wanted any more.
    pub(crate) broken_off: &'a AtomicBool,
}

struct Wanted<'a> {
    index: &'a FrameIndex,
    request: &'a Request<'a>,
    picture: u32,
}

impl FilmAccess {
    pub(crate) fn open(path: PathBuf, index: &FrameIndex, read: &ReadOptions) -> Result<Self, FootageError> {
        // Whole pictures are decoded one at a time: more threads would only delay them.
        let threads = if index.is_intra_coded() { 1 } else { read.threads };
        let read = ReadOptions { threads, ..read.clone() };
        let film = Film::open(path, &read)?;
        let lookup = Lookup::new(index);
        let fields = index.head.fields;
        Ok(Self { film, read, lookup, fields, position: Position::Nowhere, earlier: BTreeMap::new() })
    }

    /// Decodes a frame, and proves that it is the one that was indexed.
    pub(crate) fn frame(
        &mut self,
        index: &FrameIndex,
        request: &Request<'_>,
        cache: &mut FrameCache,
    ) -> Result<Arc<Frame>, FootageError> {
        let picture = request.frame / frames_per_picture(index);
        let wanted = Wanted { index, request, picture };
        self.film.decoding.next = request.frame;
        if self.is_just_ahead(picture)
            && let Some(found) = self.decode_to(&wanted, cache)?
        {
            return Ok(found);
        }
        let group = self.lookup.group_at(picture);
        let known = self.earlier.get(&group).copied().unwrap_or(0);
        // Once a key packet too few is common (recovery points); more are not, so the steps grow.
        for back in [known, known + 1, known + 3].into_iter().take_while(|&back| back <= group) {
            if self.enter(group - back)?
                && let Some(found) = self.decode_to(&wanted, cache)?
            {
                self.earlier.insert(group, back);
                return Ok(found);
            }
        }
        self.decode_from_start(&wanted, cache)
    }

    /// Whether going on from here is the shortest way to a picture.
    fn is_just_ahead(&self, picture: u32) -> bool {
        let (sound_from, next) = match self.position {
            Position::Nowhere => return false,
            Position::Entered { first_sound, last } => {
                (first_sound, last.map_or(first_sound, |last| last + 1))
            }
            Position::Counted { next } => (0, next),
        };
        let group_first =
            self.lookup.groups().get(self.lookup.group_at(picture)).map_or(0, |group| group.first);
        let is_near = group_first <= next || picture.saturating_sub(next) <= DECODED_THROUGH;
        sound_from <= picture && next <= picture && (is_near || !self.lookup.tells_pictures())
    }

    /// Goes to the key packet of a group; false when no way leads there.
    fn enter(&mut self, group: usize) -> Result<bool, FootageError> {
        let Some(group) = self.lookup.groups().get(group).copied() else { return Ok(false) };
        let Some(start) = group.start.filter(|_| self.lookup.tells_pictures()) else { return Ok(false) };
        self.position = Position::Nowhere;
        for by in ways(&start) {
            if self.film.decoding.begin_at(&start, by)? {
                self.position = Position::Entered { first_sound: group.first, last: None };
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// The way that always leads there: as in the reading that made the index, marks of damage and all.
    fn decode_from_start(
        &mut self,
        wanted: &Wanted<'_>,
        cache: &mut FrameCache,
    ) -> Result<Arc<Frame>, FootageError> {
        for threads in [1, self.read.threads] {
            self.film.rewind(&ReadOptions { threads, ..self.read.clone() })?;
            self.film.decoding.next = wanted.request.frame;
            self.position = Position::Counted { next: 0 };
            if let Some(found) = self.decode_to(wanted, cache)? {
                return Ok(found);
            }
        }
        self.position = Position::Nowhere;
        Err(FootageError::NotExact {
            path: self.film.decoding.path.clone(),
            frame: FrameNumber(wanted.request.frame),
            text: "decoding gives another picture, from the start of the film too".to_owned(),
        })
    }

    /// Decodes forward; `None` when the frame does not come, or is not as indexed.
    fn decode_to(
        &mut self,
        wanted: &Wanted<'_>,
        cache: &mut FrameCache,
    ) -> Result<Option<Arc<Frame>>, FootageError> {
        loop {
            if wanted.request.broken_off.load(Ordering::Relaxed) {
                return Err(FootageError::Stopped { frame: FrameNumber(wanted.request.frame) });
            }
            let next = match self.next_picture() {
                // Data that only the reading before the key packet makes sense of.
                Err(FootageError::Damaged { .. } | FootageError::SizeChanged { .. }) => None,
                other => other?,
            };
            let Some(picture) = next else {
                self.position = Position::Nowhere;
                return Ok(None);
            };
            let Some(picture) = picture.filter(|&picture| self.is_sound(picture)) else { continue };
            if picture > wanted.picture {
                return Ok(None);
            }
            let is_kept = wanted.request.goes_back || picture + KEPT_BEFORE >= wanted.picture;
            if !is_kept {
                continue;
            }
            let frames = self.frames_of(picture, wanted.index)?;
            let found = frames.into_iter().fold(None, |found, frame| keep(frame, wanted, cache).or(found));
            if picture == wanted.picture {
                return Ok(found);
            }
        }
    }

    /// Number of the next picture, itself `None` when it is not in the index; `None` after the last one.
    fn next_picture(&mut self) -> Result<Option<Option<u32>>, FootageError> {
        if !self.film.decoding.decode()? {
            return Ok(None);
        }
        let ticks = self.film.decoding.picture.pts();
        let byte = u64::try_from(self.film.decoding.picture.packet().position).ok();
        Ok(Some(match &mut self.position {
            Position::Counted { next } => {
                let number = *next;
                *next += 1;
                Some(number)
            }
            Position::Entered { last, .. } => {
                let number = self.lookup.picture(ticks, byte);
                *last = number.or(*last);
                number
            }
            Position::Nowhere => None,
        }))
    }

    fn is_sound(&self, picture: u32) -> bool {
        !matches!(self.position, Position::Entered { first_sound, .. } if picture < first_sound)
    }

    /// The frames of the latest picture, as the index describes them.
    fn frames_of(&self, picture: u32, index: &FrameIndex) -> Result<Vec<Frame>, FootageError> {
        let image = self.film.picture()?;
        let Some(order) = self.fields else { return Ok(framed(picture, image, index).into_iter().collect()) };
        let mut frames = Vec::new();
        for number in [2 * picture, 2 * picture + 1] {
            let Some(parity) = order.parity(FrameNumber(number)) else { continue };
            let rows = parity
                .rows_of(&image.view())
                .map_err(|source| FootageError::Layout { path: self.film.decoding.path.clone(), source })?;
            frames.extend(framed(number, rows, index));
        }
        Ok(frames)
    }
}

/// Keeps a frame, and gives it back when it is the one wanted and as indexed.
fn keep(frame: Frame, wanted: &Wanted<'_>, cache: &mut FrameCache) -> Option<Arc<Frame>> {
    let is_wanted = frame.number.0 == wanted.request.frame;
    if is_wanted && !is_as_indexed(&frame, wanted.index) {
        return None;
    }
    let frame = Arc::new(frame);
    cache.keep(Arc::clone(&frame), is_wanted);
    is_wanted.then_some(frame)
}

/// Whether a frame's picture has the hash that the index states.
pub(crate) fn is_as_indexed(frame: &Frame, index: &FrameIndex) -> bool {
    let record = index.frames.get(frame.number.0 as usize);
    record.is_some_and(|record| record.hash == picture_hash(&frame.picture.view()))
}

/// A picture with what the index says of it.
pub(crate) fn framed(
    number: u32,
    picture: filmgauge_quantities::GreyImage,
    index: &FrameIndex,
) -> Option<Frame> {
    let record = index.frames.get(number as usize)?;
    Some(Frame {
        number: record.number,
        stamp: record.stamp,
        key: record.key,
        damaged: record.damaged,
        picture,
        place: record.place,
    })
}

/// Ways to seek, the likeliest first. Stamps of presentation lead too far where a container looks up those of decoding.
fn ways(start: &KeyPlace) -> impl Iterator<Item = SeekBy> {
    let differ = start.decode_ticks.is_some_and(|decode| Some(decode) != start.ticks);
    let has_ticks = start.ticks.is_some();
    [(SeekBy::Ticks, has_ticks), (SeekBy::DecodeTicks, differ), (SeekBy::Byte, start.byte.is_some())]
        .into_iter()
        .filter_map(|(by, is_known)| is_known.then_some(by))
}
