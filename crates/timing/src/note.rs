//! What is doubtful about marks, a clock or a time zero: named, with its place, beside a result that stands.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Something that a person should know about a result of this room. Frames are frame coordinates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
#[serde(rename_all = "snake_case")]
pub enum TimingNote {
    /// The lit lamp drives the picture to its limit: the transition frame's brightness says nothing.
    Saturated {
        /// Grey level of the lit lamp.
        level: f64,
    },
    /// Fewer than two marks: no film speed follows from them.
    TooFewMarks {
        /// Marks found.
        found: usize,
    },
    /// The marks end before the film does.
    MarksStop {
        /// Frame of the last mark.
        last_frame: f64,
        /// Frames of film after it.
        frames_left: f64,
    },
    /// The film begins without marks.
    MarksStartLate {
        /// Frame of the first mark.
        first_frame: f64,
    },
    /// The lamp takes longer than one exposure to change: its instant is known to the frames it takes.
    SlowChange {
        /// Frame in which the change was seen.
        frame: f64,
    },
    /// The lamp was lit, or dark, for a single frame: its instants are known to one frame interval.
    ShortPulse {
        /// The frame.
        frame: usize,
    },
    /// A mark lies across the border of a frame and was left out.
    MarkCut {
        /// The frame.
        frame: usize,
    },
    /// Marks are missing between two others; the numbering allows for them.
    MarksSkipped {
        /// Frame of the mark before.
        after_frame: f64,
        /// How many are missing.
        missing: usize,
    },
    /// A mark stands too near its neighbour to be one of the series, and was left out.
    MarkDoubled {
        /// Its frame.
        frame: f64,
    },
    /// A mark stands out of place between its neighbours, and was left out.
    MarkOutOfPlace {
        /// Its frame.
        frame: f64,
    },
    /// The distance between two marks is no whole number of the usual one: their numbers are doubtful.
    NumberingDoubtful {
        /// Frame of the mark before.
        after_frame: f64,
        /// Distance divided by the usual distance.
        ratio: f64,
    },
    /// So few marks that the residuals cannot be judged.
    ResidualsNotJudged,
    /// The residuals are larger than the stated uncertainties explain; all were widened.
    ResidualsLarge {
        /// Factor by which the uncertainty was widened.
        widening: f64,
    },
    /// The speed changes in more ways than the highest degree allowed can follow.
    DegreeLimit,
    /// The speed by the marks and the speed by the camera record contradict each other.
    ContradictsRecord {
        /// By the marks, frames/s.
        fitted_frames_per_s: f64,
        /// By the record, frames/s.
        record_frames_per_s: f64,
    },
    /// Two clocks have no observation in common, directly or through others.
    ClockUnconnected {
        /// Name of the clock.
        clock: String,
    },
    /// A clock's rate was held at the reference's, because its observations do not lie far enough apart.
    DriftHeld {
        /// Name of the clock.
        clock: String,
    },
    /// One observation disagrees with all others.
    ObservationDisagrees {
        /// Which, in words.
        observation: String,
        /// Its residual divided by the residual's standard uncertainty.
        ratio: f64,
    },
}

impl fmt::Display for TimingNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Saturated { level } => write!(
                f,
                "the lamp is overexposed (grey level {level:.0}): its instants are known to one frame interval only"
            ),
            Self::TooFewMarks { found } => {
                write!(f, "{found} timing marks found: no film speed follows from them")
            }
            Self::MarksStop { last_frame, frames_left } => write!(
                f,
                "the timing marks stop at frame {last_frame:.1}, {frames_left:.0} frames before the film's end; \
                 times after it are extrapolated"
            ),
            Self::MarksStartLate { first_frame } => write!(
                f,
                "the timing marks begin at frame {first_frame:.1}; times before it are extrapolated"
            ),
            Self::SlowChange { frame } => write!(
                f,
                "the lamp changes slowly at frame {frame:.1}: its instant is known to the frames it takes"
            ),
            Self::ShortPulse { frame } => write!(
                f,
                "the lamp changes twice about frame {frame}: its instants are known to one frame interval only"
            ),
            Self::MarkCut { frame } => {
                write!(f, "a mark lies across the border of frame {frame} and was left out")
            }
            _ => self.fmt_clock(f),
        }
    }
}

impl TimingNote {
    fn fmt_clock(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::MarksSkipped { after_frame, missing } => {
                write!(
                    f,
                    "{missing} timing marks are missing after frame {after_frame:.1}; they were counted"
                )
            }
            Self::MarkDoubled { frame } => {
                write!(f, "the timing mark at frame {frame:.2} is doubled; one of the two was left out")
            }
            Self::MarkOutOfPlace { frame } => {
                write!(f, "the timing mark at frame {frame:.2} is out of place and was left out")
            }
            Self::NumberingDoubtful { after_frame, ratio } => write!(
                f,
                "after frame {after_frame:.1} the next timing mark follows at {ratio:.2} times the usual distance; \
                 check how many marks are missing"
            ),
            Self::ResidualsNotJudged => f.write_str("too few timing marks to judge how well they fit"),
            Self::ResidualsLarge { widening } => write!(
                f,
                "the residuals are larger than stated and every uncertainty was widened by a factor of {widening:.2}; \
                 look for a wrong entry, or for a curve that asks for more terms"
            ),
            Self::DegreeLimit => f.write_str(
                "the film speed changes in more ways than the highest degree allowed follows; times are less certain, \
                 most of all near the first and the last mark; allow a higher degree",
            ),
            Self::ContradictsRecord { fitted_frames_per_s, record_frames_per_s } => write!(
                f,
                "the timing marks say {fitted_frames_per_s:.3} frames/s, the camera record \
                 {record_frames_per_s:.3} (ratio {:.4}); check the frequency of the timing lamp and the record",
                fitted_frames_per_s / record_frames_per_s
            ),
            Self::ClockUnconnected { clock } => {
                write!(f, "clock \"{clock}\" shares no observation with the reference; it was left out")
            }
            Self::DriftHeld { clock } => write!(
                f,
                "the rate of clock \"{clock}\" was taken as the reference's: its observations lie too close together"
            ),
            Self::ObservationDisagrees { observation, ratio } => write!(
                f,
                "{observation} disagrees with the other observations ({ratio:.1} standard uncertainties); check it"
            ),
            _ => Ok(()),
        }
    }
}
