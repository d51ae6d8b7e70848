//! Follows an edge that may be bent from one end to the other, and locates points along it to a fraction of a pixel.

use super::stretch::{Found, Sought, find};
use super::{EdgeFailure, EdgeOptions};
use crate::error::{TargetsError, require_all};
use filmgauge_quantities::{GreyView, PixelPoint};

/// Settings of [`trace_edge`].
#[derive(Debug, Clone, PartialEq)]
pub struct TraceOptions {
    /// Distance of neighbouring points along the edge, px; 2 to 200.
    pub step_px: f64,
    /// Length of the stretch that each point is read from, px; 4 to 100. Not above `step_px`, or points share pixels.
    pub length_px: f64,
    /// How far from the next place expected the edge is sought, px; 1 to 20.
    pub follow_px: f64,
    /// Least share of the points that must be found; 0.1 to 1.
    pub least_share: f64,
    /// How an edge is read: `search_px` is for the ends as given; `reach_px` is what must be alike on each side.
    pub edge: EdgeOptions,
}

impl Default for TraceOptions {
    fn default() -> Self {
        Self {
            step_px: 12.0,
            length_px: 12.0,
            follow_px: 2.0,
            least_share: 0.5,
            edge: EdgeOptions { search_px: 6.0, ..EdgeOptions::default() },
        }
    }
}

impl TraceOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        self.edge.check()?;
        require_all(&[
            ("step_px", self.step_px, 2.0..=200.0, "it must be 2 to 200 px"),
            ("length_px", self.length_px, 4.0..=self.step_px.max(4.0), "it must be 4 px to the step"),
            ("follow_px", self.follow_px, 1.0..=20.0, "it must be 1 to 20 px"),
            ("least_share", self.least_share, 0.1..=1.0, "it must be 0.1 to 1"),
        ])
    }
}

/// A point on an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgePoint {
    /// Where it is, px.
    pub at: PixelPoint,
    /// Unit vector across the edge there. Along it a point has no meaning of its own.
    pub across: [f64; 2],
    /// Standard uncertainty across the edge, px.
    pub u_px: f64,
    /// Level beyond the edge less level before it, in the direction of `across`, grey levels.
    pub step_grey: f64,
}

/// Points along one edge, from its first end to its other.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeTrace {
    /// The points.
    pub points: Vec<EdgePoint>,
    /// Places at which one was sought.
    pub n_sought: usize,
}

/// Why an edge could not be followed. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TraceFailure {
    /// The ends are no places, or too near each other.
    #[error("the ends lie {apart_px:.0} px apart; an edge of {least_px:.0} px or more is needed")]
    TooShort {
        /// Distance given, px.
        apart_px: f64,
        /// Least distance, px.
        least_px: f64,
    },
    /// No edge at the first end.
    #[error("no edge at its first end: {0}; show the ends again, on the edge itself")]
    NoStart(EdgeFailure),
    /// It was found at too few places.
    #[error(
        "found at {n_found} of {n_sought} places only; choose an edge that is free all along, or give points between its ends"
    )]
    Broken {
        /// Places at which it was found.
        n_found: usize,
        /// Places at which it was sought.
        n_sought: usize,
    },
    /// What was followed does not lead to the other end.
    #[error(
        "the edge that begins at the first end passes the other by {off_px:.1} px; show the ends again, or give points between them"
    )]
    Astray {
        /// How far it passes by, px.
        off_px: f64,
    },
}

/// Points on the edge between two places on it, `from` and `to`, which may be off by `search_px`. The edge may be bent as a
/// lens bends a straight one: each point is sought where the one before it leads to.
///
/// # Errors
/// [`TraceFailure`] says why there is no edge to be had here.
pub fn trace_edge(
    view: &GreyView,
    from: PixelPoint,
    to: PixelPoint,
    options: &TraceOptions,
) -> Result<EdgeTrace, TraceFailure> {
    let chord = Chord::between(from, to, options)?;
    let n_sought = chord.places(options).count();
    let mut trail = Trail { view, chord: &chord, options, points: Vec::new(), seen: None };
    let mut first_failure = None;
    for along in chord.places(options) {
        if let Err(failure) = trail.goes_on(along) {
            first_failure.get_or_insert(failure);
        }
    }
    let n_found = trail.points.len();
    match (trail.seen, first_failure) {
        (None, Some(failure)) => Err(TraceFailure::NoStart(failure)),
        (Some(seen), _) if n_found as f64 >= options.least_share * n_sought as f64 => {
            let off_px = seen.expected(chord.length_px).0.abs();
            if off_px > options.edge.search_px {
                return Err(TraceFailure::Astray { off_px });
            }
            Ok(EdgeTrace { points: trail.points, n_sought })
        }
        _ => Err(TraceFailure::Broken { n_found, n_sought }),
    }
}

/// The straight way between the ends.
struct Chord {
    from: PixelPoint,
    along: [f64; 2],
    length_px: f64,
}

impl Chord {
    fn between(from: PixelPoint, to: PixelPoint, options: &TraceOptions) -> Result<Self, TraceFailure> {
        let (apart_px, least_px) = (from.distance(to), 3.0 * options.step_px);
        if !(apart_px >= least_px && apart_px.is_finite()) {
            return Err(TraceFailure::TooShort { apart_px, least_px });
        }
        let along = [(to.x - from.x) / apart_px, (to.y - from.y) / apart_px];
        Ok(Self { from, along, length_px: apart_px })
    }

    /// Places along it, clear of both ends: an end that was shown may lie a little beyond the edge's own.
    fn places(&self, options: &TraceOptions) -> impl Iterator<Item = f64> + use<> {
        let (step, length) = (options.step_px, self.length_px);
        (1..).map(move |n| f64::from(n) * step).take_while(move |along| *along <= length - step)
    }
}

/// What was last seen of the edge: where along, how far across from the chord, and how it leans against it.
#[derive(Clone, Copy)]
struct Seen {
    along: f64,
    across: f64,
    slope: f64,
    /// Change of the slope per pixel along.
    bend: f64,
    is_rising: bool,
}

impl Seen {
    /// Where the edge is expected across, and how it leans there.
    fn expected(&self, along: f64) -> (f64, f64) {
        let ahead = along - self.along;
        (self.across + ahead * (self.slope + 0.5 * ahead * self.bend), self.slope + ahead * self.bend)
    }
}

struct Trail<'a> {
    view: &'a GreyView<'a>,
    chord: &'a Chord,
    options: &'a TraceOptions,
    points: Vec<EdgePoint>,
    seen: Option<Seen>,
}

impl Trail<'_> {
    fn goes_on(&mut self, along: f64) -> Result<(), EdgeFailure> {
        let Chord { from, along: [ax, ay], .. } = *self.chord;
        let (across, slope) = self.seen.map_or((0.0, 0.0), |seen| seen.expected(along));
        let middle = from.moved(along * ax - across * ay, along * ay + across * ax);
        let (sin, cos) = slope.atan().sin_cos();
        let direction = [ax * cos - ay * sin, ay * cos + ax * sin];
        let search_px =
            if self.seen.is_some() { self.options.follow_px } else { self.options.edge.search_px };
        let sought = Sought {
            middle,
            along: direction,
            length_px: self.options.length_px,
            search_px,
            is_rising: self.seen.map(|seen| seen.is_rising),
        };
        let found = find(self.view, &sought, &self.options.edge)?;
        self.keep(&sought, &found, slope);
        Ok(())
    }

    fn keep(&mut self, sought: &Sought, found: &Found, slope: f64) {
        let [ux, uy] = sought.along;
        let at = sought.middle.moved(-found.place_px * uy, found.place_px * ux);
        let (dx, dy) = (at.x - self.chord.from.x, at.y - self.chord.from.y);
        let [ax, ay] = self.chord.along;
        let (along, across) = (dx * ax + dy * ay, dy * ax - dx * ay);
        let is_rising = found.step_grey > 0.0;
        // The way from the last point tells the slope better than one short stretch does.
        let seen = match self.seen {
            None => {
                Seen { along, across, slope: (slope.atan() + found.lean.atan()).tan(), bend: 0.0, is_rising }
            }
            Some(last) => {
                let ahead = along - last.along;
                let between = (across - last.across) / ahead;
                let bend_now = 2.0 * (between - last.slope) / ahead;
                // A part of what is new only: one stretch in noise must not bend the way ahead.
                let bend =
                    last.bend + 0.3 * (bend_now - last.bend) * f64::from(u8::from(self.points.len() > 2));
                Seen { along, across, slope: between + 0.5 * ahead * bend, bend, is_rising }
            }
        };
        self.seen = Some(seen);
        let (sin, cos) = found.lean.atan().sin_cos();
        let turned = [ux * cos - uy * sin, uy * cos + ux * sin];
        self.points.push(EdgePoint {
            at,
            across: [-turned[1], turned[0]],
            u_px: found.u_px * cos,
            step_grey: found.step_grey,
        });
    }
}
