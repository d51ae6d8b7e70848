//! The weighted least-squares problem: film positions and columns, whitened by their covariance.

use crate::film::{FilmAtSensor, SensedAxis};
use crate::frames::Frames;
use crate::integrals::Integrals;
use crate::noise::wander_covariance;
use crate::{CrosscheckFailure, CrosscheckOptions};
use filmgauge_sensors::Channel;
use nalgebra::{DMatrix, DVector};

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
        let mut column = DVector::from_vec(self.integrals.channel_m(lag_s));
        self.factor.solve_lower_triangular_mut(&mut column);
        column
    }

    /// A whitened vector back in metres.
    pub(crate) fn in_metres(&self, whitened: &DVector<f64>) -> DVector<f64> {
        &self.factor * whitened
    }

    pub(crate) fn n_frames(&self) -> usize {
        self.frames.len()
    }
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
