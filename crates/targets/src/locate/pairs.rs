//! Pixels and their opposites about a trial centre: differences, slopes and distances, one sample a pixel.

use super::soft::SoftSlopes;
use super::window::Window;
use crate::spline::{N_TAPS, NoiseGain, PrefilterMemory, Taps};
use filmgauge_quantities::PixelPoint;

/// One pixel of the window and the interpolated place opposite to it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// Pixel less centre, px.
    pub(super) dx: f64,
    /// Pixel less centre, px.
    pub(super) dy: f64,
    /// Grey level of the pixel less that of the opposite place.
    pub(super) difference: f64,
    /// Slope along x at the pixel less that at the opposite place, grey/px: twice the slope of the symmetric part.
    pub(super) slope_x: f64,
    /// The same along y.
    pub(super) slope_y: f64,
}

/// All pairs about one trial centre, and what the interpolation does to white noise there.
pub(super) struct Pairs {
    /// Row by row, left to right.
    pub(super) pairs: Vec<Pair>,
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
    pub(super) falls: Vec<(f64, f64)>,
    /// Variance of a slope for unit variance of the pixels.
    pub(super) noise_gain: f64,
}

/// Slopes at whole pixels and room to work in; made once for a window.
pub(super) struct Pairing<'w> {
    window: &'w Window,
    memory: PrefilterMemory,
    soft: Option<SoftSlopes>,
}

impl<'w> Pairing<'w> {
    pub(super) fn new(window: &'w Window) -> Self {
        Self { window, memory: PrefilterMemory::new(), soft: None }
    }

    /// From now on slopes hold little noise, at some cost where edges are sharp.
    pub(super) fn quiet(&mut self) {
        self.soft = Some(SoftSlopes::of(&self.window.grey));
    }

    /// Pairs about `centre` of the pixels inside the window's outline about `selection`.
    /// Both are relative to the window's origin and within its reach.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places lie inside the cut-out, which holds margin for the taps"
    )]
    pub(super) fn about(&self, centre: PixelPoint, selection: PixelPoint) -> Pairs {
        let (whole_x, whole_y) = ((2.0 * centre.x).floor(), (2.0 * centre.y).floor());
        let taps_x = Taps::at(2.0 * centre.x - whole_x);
        let taps_y = Taps::at(2.0 * centre.y - whole_y);
        let at_pixel = Taps::at(0.0);
        let rows: Vec<_> = self.window.outline.rows(selection).collect();
        let mut pairs = Vec::with_capacity(rows.len() * rows.len());
        let mut falls = Vec::new();
        let mut here = RowSums::default();
        let mut there = RowSums::default();
        for (y, columns) in rows {
            let (left, right) = (*columns.start(), *columns.end());
            let opposite_row = whole_y as usize - y;
            let (opposite_left, opposite_right) = (whole_x as usize - right, whole_x as usize - left);
            match &self.soft {
                Some(soft) => here.take(soft, y, left, right),
                None => here.fill(self.window, y, left, right, &at_pixel, &at_pixel),
            }
            there.fill(self.window, opposite_row, opposite_left, opposite_right, &taps_x, &taps_y);
            let grey = self.window.grey.row(y);
            for x in columns {
                if self.window.is_saturated(x, y, whole_x as usize - x, opposite_row) {
                    continue;
                }
                let (i, k) = (x - left, right - x);
                let mut slope = (here.slope_x[i] - there.slope_x[k], here.slope_y[i] - there.slope_y[k]);
                if self.soft.is_some() {
                    slope = (2.0 * here.slope_x[i], 2.0 * here.slope_y[i]);
                    falls.push((-2.0 * f64::from(there.slope_x[k]), -2.0 * f64::from(there.slope_y[k])));
                }
                pairs.push(Pair {
                    dx: x as f64 - centre.x,
                    dy: y as f64 - centre.y,
                    difference: f64::from(grey[x] - there.value[k]),
                    slope_x: f64::from(slope.0),
                    slope_y: f64::from(slope.1),
                });
            }
        }
        let noise_gain = self.soft.as_ref().map(|soft| soft.noise_gain);
        Pairs {
            pairs,
            opposite: (taps_x.noise(&self.memory), taps_y.noise(&self.memory)),
            at_pixel: at_pixel.noise(&self.memory),
            quieted: noise_gain.map(|noise_gain| Quieted { falls, noise_gain }),
        }
    }
}

impl Window {
    /// Whether a pixel, or one of the four around its opposite place, is saturated.
    fn is_saturated(&self, x: usize, y: usize, opposite_x: usize, opposite_y: usize) -> bool {
        self.saturated.as_ref().is_some_and(|mask| {
            mask[[y, x]]
                || mask[[opposite_y, opposite_x]]
                || mask[[opposite_y, opposite_x + 1]]
                || mask[[opposite_y + 1, opposite_x]]
                || mask[[opposite_y + 1, opposite_x + 1]]
        })
    }
}

/// Interpolated values and slopes along one row: down the columns first, then along the row.
#[derive(Default)]
struct RowSums {
    value: Vec<f32>,
    slope_x: Vec<f32>,
    slope_y: Vec<f32>,
    down: Vec<f32>,
    down_slope: Vec<f32>,
}

impl RowSums {
    /// Takes quieted slopes at the pixels `left` to `right` of `row`.
    fn take(&mut self, soft: &SoftSlopes, row: usize, left: usize, right: usize) {
        for (cells, slopes) in [(&mut self.slope_x, &soft.x), (&mut self.slope_y, &soft.y)] {
            cells.clear();
            cells.extend(slopes.row(row).iter().take(right + 1).skip(left));
        }
    }

    /// Fills the places `left` to `right` of `row`, each moved on by the phases of the taps.
    #[expect(clippy::cast_possible_truncation, reason = "tap weights are meant in single precision")]
    fn fill(&mut self, window: &Window, row: usize, left: usize, right: usize, taps_x: &Taps, taps_y: &Taps) {
        let n_places = right + 1 - left;
        let n_columns = n_places + N_TAPS - 1;
        for cells in [&mut self.down, &mut self.down_slope] {
            cells.clear();
            cells.resize(n_columns, 0.0);
        }
        for (j, (&value, &slope)) in taps_y.value.iter().zip(&taps_y.slope).enumerate() {
            let (value, slope) = (value as f32, slope as f32);
            let coefs = window.coefs.row(row + j - 2);
            let Some(coefs) = coefs.to_slice() else { continue };
            let coefs = &coefs[left - 2..left - 2 + n_columns];
            for ((cell, cell_slope), coef) in self.down.iter_mut().zip(&mut self.down_slope).zip(coefs) {
                *cell += value * coef;
                *cell_slope += slope * coef;
            }
        }
        for cells in [&mut self.value, &mut self.slope_x, &mut self.slope_y] {
            cells.clear();
            cells.resize(n_places, 0.0);
        }
        for j in 0..N_TAPS {
            let (value, slope) = (taps_x.value[j] as f32, taps_x.slope[j] as f32);
            let (down, down_slope) = (&self.down[j..j + n_places], &self.down_slope[j..j + n_places]);
            for i in 0..n_places {
                self.value[i] += value * down[i];
                self.slope_x[i] += slope * down[i];
                self.slope_y[i] += value * down_slope[i];
            }
        }
    }
}
