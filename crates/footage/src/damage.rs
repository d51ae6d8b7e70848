//! Which pictures of a film are damaged, and what was lost: from packets, check sums and the decoder's own word.

use crate::ffv1_footer::FooterCheck;
use crate::{FaultKind, FootageFault};
use ffmpeg_next::{Error, Packet, frame};
use std::collections::VecDeque;

/// Errors in a row after which a film counts as unreadable from there on.
const MOST_ERRORS_IN_A_ROW: u32 = 1000;

/// Damaged packets that may wait for their pictures; a decoder holds back far fewer.
const MOST_SUSPECTS: usize = 256;

/// What is known of a film's damage so far.
#[derive(Default)]
pub(crate) struct Damage {
    n_lost: u32,
    lost_in_a_row: u32,
    first_reason: String,
    /// Check of slices, for a coding whose decoder does not report them.
    footers: Option<FooterCheck>,
    /// Time stamps of packets that are known to be damaged, and whose pictures are not out yet.
    suspects: VecDeque<i64>,
    /// Data was lost or a picture damaged since the last key frame: what is predicted from it is doubtful too.
    tainted: bool,
}

impl Damage {
    /// Nothing damaged so far; `checks_slices` for FFV1.
    pub(crate) fn new(checks_slices: bool) -> Self {
        Self { footers: checks_slices.then(FooterCheck::default), ..Self::default() }
    }

    /// Looks at a packet on its way to the decoder: if its container or check sums call it damaged, so is its picture.
    pub(crate) fn watch(&mut self, packet: &Packet) {
        let checked = self.footers.as_mut().zip(packet.data());
        let damaged = packet.is_corrupt() || checked.is_some_and(|(footers, data)| footers.is_damaged(data));
        if let Some(stamp) = packet.pts().filter(|_| damaged) {
            self.suspects.push_back(stamp);
            if self.suspects.len() > MOST_SUSPECTS {
                self.suspects.pop_front();
            }
        }
    }

    /// Enters data that could not be decoded; false when it is too much to go on.
    pub(crate) fn lose(&mut self, error: Error) -> bool {
        self.n_lost = self.n_lost.saturating_add(1);
        self.lost_in_a_row += 1;
        self.tainted = true;
        if self.n_lost == 1 {
            self.first_reason = error.to_string();
        }
        self.lost_in_a_row <= MOST_ERRORS_IN_A_ROW
    }

    /// Whether a decoded picture is damaged itself, or predicted from damage: a key frame ends it.
    pub(crate) fn judge(&mut self, decoded: &frame::Video) -> bool {
        self.lost_in_a_row = 0;
        let stamp = decoded.pts();
        let place = self.suspects.iter().position(|suspect| Some(*suspect) == stamp);
        let suspect = place.and_then(|place| self.suspects.remove(place)).is_some();
        let itself = suspect || decoded.is_corrupt() || decoded.has_decode_errors();
        self.tainted = itself || (self.tainted && !decoded.is_key());
        self.tainted
    }

    /// Why a film has no picture at all.
    pub(crate) fn why_nothing(&self) -> String {
        match self.n_lost {
            0 => "the film ends before its first picture".to_owned(),
            n => format!("none of its {n} pieces of picture data can be decoded: {}", self.first_reason),
        }
    }

    /// States the loss once, at the end: with several decoder threads an error has no one frame, but the
    /// hole it leaves shows in the time stamps, and pictures that suffered are marked as damaged.
    pub(crate) fn report(&mut self) -> Option<FootageFault> {
        let n = std::mem::take(&mut self.n_lost);
        (n > 0).then(|| {
            let text = format!(
                "{n} pieces of picture data could not be decoded ({}); frames may be missing where time stamps jump",
                self.first_reason
            );
            FootageFault::of_footage(FaultKind::LostData, text)
        })
    }
}
