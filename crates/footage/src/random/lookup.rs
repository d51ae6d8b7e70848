//! From what a decoded picture says of itself to its number, and from a number to where decoding must begin.

use crate::{FrameIndex, KeyPlace};

/// Pictures of a film by time stamp, by place in the file, and by the key packet that leads to them.
/// A picture holds one frame, or two where frames are fields.
#[derive(Debug)]
pub(crate) struct Lookup {
    /// Time stamp of each picture → picture; only when all pictures have one and no two share it.
    by_ticks: Option<Vec<(i64, u32)>>,
    /// First byte of each picture → picture, likewise.
    by_byte: Option<Vec<(u64, u32)>>,
    groups: Vec<Group>,
}

/// Neighbouring pictures that decoding reaches from the same key packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Group {
    /// First picture.
    pub(crate) first: u32,
    /// Where decoding begins; `None` for the start of the film.
    pub(crate) start: Option<KeyPlace>,
}

impl Lookup {
    pub(crate) fn new(index: &FrameIndex) -> Self {
        let per_picture = frames_per_picture(index);
        let pictures = || (0_u32..).zip(index.frames.iter().step_by(per_picture as usize));
        let by_ticks = pictures()
            .map(|(at, frame)| Some((frame.stamp?.ticks / i64::from(per_picture), at)))
            .collect::<Option<Vec<_>>>();
        let by_byte =
            pictures().map(|(at, frame)| Some((frame.place?.byte?, at))).collect::<Option<Vec<_>>>();
        let mut groups: Vec<Group> = Vec::new();
        for (first, frame) in pictures() {
            let start = frame.place.and_then(|place| place.start);
            if groups.last().is_none_or(|group| group.start != start) {
                groups.push(Group { first, start });
            }
        }
        Self { by_ticks: by_ticks.and_then(unique), by_byte: by_byte.and_then(unique), groups }
    }

    /// Number of the picture with this stamp and place; `None` when it is not in the index.
    pub(crate) fn picture(&self, ticks: Option<i64>, byte: Option<u64>) -> Option<u32> {
        match (&self.by_ticks, &self.by_byte) {
            (Some(table), _) => find(table, ticks?),
            (None, Some(table)) => find(table, byte?),
            (None, None) => None,
        }
    }

    /// Whether pictures can be told apart without counting from the start of the film.
    pub(crate) fn tells_pictures(&self) -> bool {
        self.by_ticks.is_some() || self.by_byte.is_some()
    }

    /// Place of the group that holds a picture, in [`Lookup::groups`].
    pub(crate) fn group_at(&self, picture: u32) -> usize {
        self.groups.partition_point(|group| group.first <= picture).saturating_sub(1)
    }

    pub(crate) fn groups(&self) -> &[Group] {
        &self.groups
    }
}

/// How many frames a stored picture holds.
pub(crate) fn frames_per_picture(index: &FrameIndex) -> u32 {
    if index.head.fields.is_some() { 2 } else { 1 }
}

fn unique<K: Ord + Copy>(mut table: Vec<(K, u32)>) -> Option<Vec<(K, u32)>> {
    table.sort_unstable();
    table.windows(2).all(|pair| pair[0].0 != pair[1].0).then_some(table)
}

fn find<K: Ord + Copy>(table: &[(K, u32)], key: K) -> Option<u32> {
    table.binary_search_by_key(&key, |entry| entry.0).ok().map(|at| table[at].1)
}
