//! Pixels and their opposites about a trial centre: differences, slopes and distances, one sample a pixel.

use super::ground;
use super::opposite::{Coefs, Reading, Readings, Span};
use super::soft::SoftSlopes;
use super::window::Window;
use crate::spline::{NoiseGain, PrefilterMemory, Taps};
use filmgauge_quantities::PixelPoint;

/// All pairs of a pixel and the interpolated place opposite to it, about one trial centre, and what the interpolation does to
/// white noise there. Columns of equal length; row by row, left to right.
#[derive(Default)]
pub(super) struct Pairs {
    /// Pixel less centre, px.
    pub(super) dx: Vec<f32>,
    /// Pixel less centre, px.
    pub(super) dy: Vec<f32>,
    /// Grey level of the pixel less that of the opposite place.
    pub(super) difference: Vec<f32>,
    /// Slope along x at the pixel less that at the opposite place, grey/px: twice the slope of the symmetric part.
    pub(super) slope_x: Vec<f32>,
    /// The same along y.
    pub(super) slope_y: Vec<f32>,
    /// Mean level of the two, grey levels from the cut-out's mean; only where ground may differ.
    pub(super) level: Vec<f32>,
    /// Noise gains along x and y at the opposite places.
    pub(super) opposite: (NoiseGain, NoiseGain),
    /// Noise gain of slope and value at the pixels themselves.
    pub(super) at_pixel: NoiseGain,
    /// What quieted slopes need; `None` where slopes are the spline's.
    pub(super) quieted: Option<Quieted>,
}

/// What goes with slopes that are quieted.
pub(super) struct Quieted {
    /// By how much each pair's difference falls as the centre moves along x and along y, grey/px, from pixels whose noise
    /// the slope does not hold.
    pub(super) falls: (Vec<f32>, Vec<f32>),
    /// Variance of a slope for unit variance of the pixels.
    pub(super) noise_gain: f64,
}

/// Pixels of the window about one place: what stays the same from round to round.
#[derive(Default)]
struct Chosen {
    about: Option<PixelPoint>,
    spans: Vec<Span>,
    x: Vec<f32>,
    y: Vec<f32>,
    grey: Vec<f32>,
    here: Readings,
}

/// The pairs of one window about trial centres, and room to work in.
pub(super) struct Pairing<'w> {
    window: &'w Window,
    memory: &'static PrefilterMemory,
    coefs: Coefs,
    turned: Coefs,
    soft: Option<SoftSlopes>,
    chosen: Chosen,
    there: Readings,
    pairs: Pairs,
}

impl<'w> Pairing<'w> {
    pub(super) fn new(window: &'w Window) -> Self {
        let memory = PrefilterMemory::known();
        Self {
            window,
            memory,
            coefs: Coefs::new(&window.coefs, window.side),
            turned: Coefs::turned(&window.coefs, window.side),
            soft: None,
            chosen: Chosen::default(),
            there: Readings::default(),
            pairs: Pairs { at_pixel: Taps::at(0.0).noise(memory), ..Pairs::default() },
        }
    }

    /// From now on slopes hold little noise, at some cost where edges are sharp.
    pub(super) fn quiet(&mut self) {
        self.soft = Some(SoftSlopes::of(&self.window.grey, self.window.side));
        self.chosen.about = None;
    }

    /// Pairs about `centre` of the pixels inside the window's outline about `selection`.
    /// Both are relative to the window's origin and within its reach.
    pub(super) fn about(&mut self, centre: PixelPoint, selection: PixelPoint) -> &Pairs {
        if self.chosen.about != Some(selection) {
            self.choose(selection);
        }
        let whole = ((2.0 * centre.x).floor(), (2.0 * centre.y).floor());
        let taps = (Taps::at(2.0 * centre.x - whole.0), Taps::at(2.0 * centre.y - whole.1));
        let reading = Reading::opposite(self.window.side, whole, (&taps.0, &taps.1));
        self.there.take(&self.turned, &self.chosen.spans, &reading);
        self.pair(centre);
        self.pairs.opposite = (taps.0.noise(self.memory), taps.1.noise(self.memory));
        if self.window.saturated.is_some() {
            self.leave_out_saturated(whole);
        }
        if self.window.ground_may_differ {
            ground::free(&mut self.pairs, self.window.outline.radius_px);
        }
        &self.pairs
    }

    /// The pixels about `selection`, their levels and slopes.
    fn choose(&mut self, selection: PixelPoint) {
        let Chosen { about, spans, x, y, grey, here } = &mut self.chosen;
        *about = Some(selection);
        spans.clear();
        let most = self.window.side * self.window.side;
        for cells in [&mut *x, &mut *y, &mut *grey] {
            cells.clear();
            cells.reserve(most);
        }
        for (row, columns) in self.window.outline.rows(selection) {
            let (left, n) = (*columns.start(), columns.end() + 1 - columns.start());
            spans.push(Span { row, left, n });
            x.extend(columns.map(|column| column as f32));
            y.resize(x.len(), row as f32);
            grey.extend_from_slice(&self.window.grey[row * self.window.side + left..][..n]);
        }
        match &self.soft {
            Some(soft) => soft.read(spans, here),
            None => here.take(&self.coefs, spans, &Reading::at_pixels(&Taps::at(0.0))),
        }
    }

    #[expect(clippy::cast_possible_truncation, reason = "places in a small cut-out, in single precision")]
    fn pair(&mut self, centre: PixelPoint) {
        let (Chosen { x, y, grey, here, .. }, there, pairs) = (&self.chosen, &self.there, &mut self.pairs);
        let (centre_x, centre_y) = (centre.x as f32, centre.y as f32);
        fill(&mut pairs.dx, x, x, |x, _| x - centre_x);
        fill(&mut pairs.dy, y, y, |y, _| y - centre_y);
        fill(&mut pairs.difference, grey, &there.value, |here, there| here - there);
        if self.window.ground_may_differ {
            fill(&mut pairs.level, grey, &there.value, f32::midpoint);
        }
        if let Some(soft) = &self.soft {
            fill(&mut pairs.slope_x, &here.slope_x, &here.slope_x, |slope, _| 2.0 * slope);
            fill(&mut pairs.slope_y, &here.slope_y, &here.slope_y, |slope, _| 2.0 * slope);
            let falls = |slopes: &[f32]| slopes.iter().map(|slope| -2.0 * slope).collect();
            let falls = (falls(&there.slope_x), falls(&there.slope_y));
            pairs.quieted = Some(Quieted { falls, noise_gain: soft.noise_gain });
        } else {
            fill(&mut pairs.slope_x, &here.slope_x, &there.slope_x, |here, there| here - there);
            fill(&mut pairs.slope_y, &here.slope_y, &there.slope_y, |here, there| here - there);
        }
    }

    /// Drops the pairs of which a pixel, or one of the four around its opposite place, is saturated.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "twice a centre inside the cut-out"
    )]
    fn leave_out_saturated(&mut self, whole: (f64, f64)) {
        let (window, whole) = (self.window, (whole.0 as usize, whole.1 as usize));
        let spans = self.chosen.spans.iter();
        let is_kept: Vec<bool> = spans
            .flat_map(|span| (span.left..span.left + span.n).map(|x| (x, span.row)))
            .map(|(x, y)| !window.is_saturated(x, y, whole.0 - x, whole.1 - y))
            .collect();
        let Pairs { dx, dy, difference, slope_x, slope_y, level, quieted, .. } = &mut self.pairs;
        let mut columns = vec![dx, dy, difference, slope_x, slope_y];
        if let Some(quieted) = quieted {
            columns.extend([&mut quieted.falls.0, &mut quieted.falls.1]);
        }
        if window.ground_may_differ {
            columns.push(level);
        }
        for column in columns {
            let mut is_kept = is_kept.iter();
            column.retain(|_| *is_kept.next().unwrap_or(&false));
        }
    }
}

fn fill(to: &mut Vec<f32>, from: &[f32], with: &[f32], of: impl Fn(f32, f32) -> f32) {
    to.clear();
    to.extend(from.iter().zip(with).map(|(a, b)| of(*a, *b)));
}

impl Window {
    /// Whether a pixel, or one of the four around its opposite place, is saturated.
    fn is_saturated(&self, x: usize, y: usize, opposite_x: usize, opposite_y: usize) -> bool {
        let at = |x: usize, y: usize| y * self.side + x;
        self.saturated.as_ref().is_some_and(|mask| {
            mask[at(x, y)]
                || mask[at(opposite_x, opposite_y)]
                || mask[at(opposite_x + 1, opposite_y)]
                || mask[at(opposite_x, opposite_y + 1)]
                || mask[at(opposite_x + 1, opposite_y + 1)]
        })
    }
}
