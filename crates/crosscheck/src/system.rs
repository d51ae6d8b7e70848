//! The weighted least-squares problem: film positions and columns, whitened by their covariance.

use crate::film::{FilmAtSensor, SensedAxis};
use crate::frames::Frames;
use crate::integrals::Integrals;
use crate::noise::wander_covariance;
use crate::shapes::Shape;
use crate::{CrosscheckFailure, CrosscheckOptions};
use filmgauge_sensors::Channel;
use nalgebra::{DMatrix, DVector};
use std::cell::OnceCell;

/// Spacing of the lags at which the channel's column is kept, s. The cubic between them is good to the fourth power of the
/// spacing times the second derivative of the reading: far below what film can see.
const KEPT_STEP_S: f64 = 0.0005;

/// Positions and columns, each divided by the Cholesky factor of the positions' covariance: film noise per
/// frame, plus the wandering that sensor noise makes after two integrations.
pub(crate) struct System<'a> {
    pub(crate) frames: Frames,
    integrals: Integrals<'a>,
    factor: DMatrix<f64>,
    pub(crate) film: DVector<f64>,
    pub(crate) one: DVector<f64>,
    pub(crate) time: DVector<f64>,
    /// Minus what a unit offset becomes.
    pub(crate) offset: DVector<f64>,
    /// Relative standard uncertainty of the film speed.
    pub(crate) film_speed_u: f64,
    /// Lags beyond this are made when they are asked for, s.
    most_lag_s: f64,
    /// The channel's column at even lags from −`most_lag_s` on.
    kept: OnceCell<Vec<DVector<f64>>>,
}

impl<'a> System<'a> {
    pub(crate) fn new(
        film: &FilmAtSensor,
        channel: &'a Channel,
        axis: SensedAxis,
        options: &CrosscheckOptions,
        frames: Frames,
        noise_m2_s3: f64,
    ) -> Result<Self, CrosscheckFailure> {
        let integrals = Integrals::new(film, channel, &frames);
        let factor = covariance_factor(&frames, noise_m2_s3).ok_or_else(|| {
            CrosscheckFailure::film("the variances of its positions are too unequal to be used")
        })?;
        let gravity_m = integrals.gravity_m(film, axis, options.zeroed_at_rest);
        let seen_m = frames.position_m.iter().zip(&gravity_m).map(|(position, gravity)| position + gravity);
        let first_s = frames.first_s();
        let mut system = Self {
            film: DVector::from_iterator(frames.len(), seen_m),
            one: DVector::from_element(frames.len(), 1.0),
            time: DVector::from_iterator(frames.len(), frames.times_s.iter().map(|time_s| time_s - first_s)),
            offset: -DVector::from_vec(integrals.offset_m()),
            film_speed_u: film.speed_relative_u,
            most_lag_s: options.lag_search_s + 4.0 * KEPT_STEP_S,
            kept: OnceCell::new(),
            frames,
            integrals,
            factor,
        };
        for column in [&mut system.film, &mut system.one, &mut system.time, &mut system.offset] {
            system.factor.solve_lower_triangular_mut(column);
        }
        Ok(system)
    }

    /// The channel as displacement when it is `lag_s` late, whitened.
    pub(crate) fn channel(&self, lag_s: f64) -> DVector<f64> {
        let place = (lag_s + self.most_lag_s) / KEPT_STEP_S;
        let kept = self.kept.get_or_init(|| self.even_lags());
        let Some((first, share)) = four_around(place, kept.len()) else {
            return self.whitened(self.integrals.channel_m(lag_s));
        };
        let mut column = DVector::zeros(self.frames.len());
        for (point, size) in cubic_shares(share).into_iter().enumerate() {
            column.axpy(size, &kept[first + point], 1.0);
        }
        column
    }

    fn even_lags(&self) -> Vec<DVector<f64>> {
        std::iter::successors(Some(-self.most_lag_s), |lag_s| Some(lag_s + KEPT_STEP_S))
            .take_while(|lag_s| *lag_s <= self.most_lag_s + 0.5 * KEPT_STEP_S)
            .map(|lag_s| self.whitened(self.integrals.channel_m(lag_s)))
            .collect()
    }

    /// What a relative error of the film speed does, for a gain of 1, whitened.
    pub(crate) fn film_speed(&self, lag_s: f64) -> DVector<f64> {
        self.whitened(self.integrals.film_speed_m(lag_s))
    }

    /// What a moved zero does from an instant of the film on, whitened.
    pub(crate) fn step(&self, from_s: f64) -> DVector<f64> {
        -self.whitened(self.integrals.step_m(from_s))
    }

    /// The columns of a fault that changes the record's shape, whitened.
    pub(crate) fn shape(&self, shape: &Shape, lag_s: f64) -> Vec<DVector<f64>> {
        shape
            .columns_m(&self.integrals, &self.frames.times_s, lag_s)
            .into_iter()
            .map(|column| self.whitened(column))
            .collect()
    }

    pub(crate) fn whitened(&self, column_m: Vec<f64>) -> DVector<f64> {
        let mut column = DVector::from_vec(column_m);
        self.factor.solve_lower_triangular_mut(&mut column);
        column
    }

    /// Columns of a matrix, whitened.
    pub(crate) fn whitened_matrix(&self, columns_m: DMatrix<f64>) -> Option<DMatrix<f64>> {
        self.factor.solve_lower_triangular(&columns_m)
    }

    /// A whitened vector back in metres.
    pub(crate) fn in_metres(&self, whitened: &DVector<f64>) -> DVector<f64> {
        &self.factor * whitened
    }

    pub(crate) fn n_frames(&self) -> usize {
        self.frames.len()
    }
}

/// First of the four kept points around a place, and the place from it on; `None` near the ends.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the place is checked to lie between 1 and the number of points"
)]
fn four_around(place: f64, n_points: usize) -> Option<(usize, f64)> {
    if !(place >= 1.0 && place + 2.0 < n_points as f64) {
        return None;
    }
    let first = place as usize - 1;
    Some((first, place - first as f64))
}

/// Shares of points at 0, 1, 2, 3 in the cubic through them.
fn cubic_shares(at: f64) -> [f64; 4] {
    let [a, b, c, d] = [at, at - 1.0, at - 2.0, at - 3.0];
    [-b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0]
}

fn covariance_factor(frames: &Frames, noise_m2_s3: f64) -> Option<DMatrix<f64>> {
    let after_s: Vec<f64> = frames.times_s.iter().map(|time_s| time_s - frames.first_s()).collect();
    let n_frames = frames.len();
    let covariance = DMatrix::from_fn(n_frames, n_frames, |i, j| {
        let own = if i == j { frames.variance_m2[i] } else { 0.0 };
        own + noise_m2_s3 * wander_covariance(after_s[i], after_s[j])
    });
    covariance.cholesky().map(nalgebra::Cholesky::unpack)
}
