//! Inks of marked films: those of the sheet on dark ground (`sheet.css`). Nothing is told by colour alone: a shape or a
//! word goes with it.

use super::canvas::Ink;

/// Ground of what stands above and below the film.
pub(super) const GROUND: Ink = [0x15, 0x19, 0x1c];
/// Words.
pub(super) const WORDS: Ink = [0xe4, 0xe7, 0xe6];
/// Words of second rank, axes.
pub(super) const SOFT: Ink = [0x9a, 0xa5, 0xab];
/// Rules.
pub(super) const RULE: Ink = [0x33, 0x3b, 0x41];
/// What a person should see.
pub(super) const ALARM: Ink = [0xf2, 0xa8, 0x73];
/// Axes and points of bodies.
pub(super) const BODY: Ink = [0x7c, 0xc7, 0xcf];
/// Scale bar and names over the film.
pub(super) const OVER: Ink = [0xff, 0xff, 0xff];
/// Curves by number, solid ones and those of sensors.
const SERIES: [Ink; 6] = [
    [0x56, 0xb4, 0xe9],
    [0xd5, 0x5e, 0x00],
    [0x00, 0x9e, 0x73],
    [0xcc, 0x79, 0xa7],
    [0xe6, 0x9f, 0x00],
    [0x4f, 0x94, 0xd4],
];
const SENSORS: [Ink; 6] = [
    [0xd6, 0xee, 0xfc],
    [0xff, 0xc7, 0xa3],
    [0xa8, 0xec, 0xd4],
    [0xf8, 0xd9, 0xe9],
    [0xff, 0xe3, 0xa8],
    [0xc9, 0xde, 0xf3],
];

/// Ink of a curve.
pub(super) fn of_curve(colour: usize, is_sensor: bool) -> Ink {
    let inks = if is_sensor { &SENSORS } else { &SERIES };
    inks[colour % inks.len()]
}

/// Ink of a mark by its state: the sheet's fifth, first and fourth colour.
pub(super) fn of_state(state: MarkLook) -> Ink {
    match state {
        MarkLook::Found => SERIES[4],
        MarkLook::Hand => SERIES[0],
        MarkLook::Inferred => SERIES[3],
    }
}

/// How a mark came about, which decides its shape and ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum MarkLook {
    /// A ring.
    Found,
    /// A square standing on a corner.
    Hand,
    /// A dashed ring.
    Inferred,
}

impl MarkLook {
    pub(super) const ALL: [Self; 3] = [Self::Found, Self::Hand, Self::Inferred];

    /// The word of the results.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Hand => "hand",
            Self::Inferred => "inferred",
        }
    }

    pub(super) fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|look| look.word() == word)
    }
}
