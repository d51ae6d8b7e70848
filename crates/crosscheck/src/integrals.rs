//! Double integrals of the channel, of gravity and of rotation, at the times of the frames.

use crate::film::{FilmAtSensor, SensedAxis};
use crate::frames::Frames;
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use filmgauge_sensors::{Channel, Interpolation};

/// Shortest and longest step of the integration, s; the channel's own step in between.
const STEP_RANGE_S: (f64, f64) = (2e-5, 1e-4);

/// An even grid from the first frame to the last, with what the film says at its points.
#[derive(Debug)]
pub(crate) struct Integrals<'a> {
    channel: &'a Channel,
    frame_times_s: Vec<f64>,
    grid_s: Vec<f64>,
    step_s: f64,
    secant: Vec<f64>,
}

impl<'a> Integrals<'a> {
    pub(crate) fn new(film: &FilmAtSensor, channel: &'a Channel, frames: &Frames) -> Self {
        let (from_s, to_s) = (frames.first_s(), frames.last_s());
        let (grid_s, step_s) = even_grid(from_s, to_s, channel.step_s);
        let secant = grid_s.iter().map(|&time_s| 1.0 / film.between(time_s).0.cos()).collect();
        Self { channel, frame_times_s: frames.times_s.clone(), grid_s, step_s, secant }
    }

    /// ∬ f(t + lag) / cos θ: the channel as displacement. Beyond its ends the channel is held.
    pub(crate) fn channel_m(&self, lag_s: f64) -> Vec<f64> {
        self.of_record_m(lag_s, |record_s| self.reading(record_s))
    }

    /// ∬ of something that goes with the record's own time, over cos θ.
    pub(crate) fn of_record_m(&self, lag_s: f64, value: impl Fn(f64) -> f64) -> Vec<f64> {
        self.integrals(&self.along(lag_s, value)).1
    }

    /// t ∫ f(t + lag) / cos θ: what a relative error of the film speed does to the film's positions.
    pub(crate) fn film_speed_m(&self, lag_s: f64) -> Vec<f64> {
        let speed = self.integrals(&self.along(lag_s, |record_s| self.reading(record_s))).0;
        self.frame_times_s.iter().zip(speed).map(|(time_s, speed_m_s)| time_s * speed_m_s).collect()
    }

    /// The channel itself at the frames.
    pub(crate) fn readings(&self, lag_s: f64) -> Vec<f64> {
        self.frame_times_s.iter().map(|time_s| self.reading(time_s + lag_s)).collect()
    }

    /// ∬ of 1 from an instant of the film on, over cos θ.
    pub(crate) fn step_m(&self, from_s: f64) -> Vec<f64> {
        // The grid's step in which the change falls gets its share, so that the column moves evenly with the instant.
        let share = |time_s: f64| ((time_s - from_s) / self.step_s + 0.5).clamp(0.0, 1.0);
        let along: Vec<f64> =
            self.grid_s.iter().zip(&self.secant).map(|(&time_s, secant)| share(time_s) * secant).collect();
        self.twice(&along)
    }

    fn along(&self, lag_s: f64, value: impl Fn(f64) -> f64) -> Vec<f64> {
        self.grid_s.iter().zip(&self.secant).map(|(&time_s, secant)| value(time_s + lag_s) * secant).collect()
    }

    fn reading(&self, record_s: f64) -> f64 {
        let inside_s = record_s.clamp(self.channel.start_s, self.channel.end_s());
        self.channel.at(inside_s, Interpolation::Cubic).unwrap_or_default()
    }

    /// ∬ 1 / cos θ: what a unit offset becomes.
    pub(crate) fn offset_m(&self) -> Vec<f64> {
        self.twice(&self.secant)
    }

    /// What has to be added to the film's position so that the channel alone explains it: gravity and the
    /// other axis seen through the pitch, less gravity where the channel was zeroed with it.
    pub(crate) fn gravity_m(&self, film: &FilmAtSensor, axis: SensedAxis, zeroed_at_rest: bool) -> Vec<f64> {
        self.gravity(film, axis, zeroed_at_rest).1
    }

    /// The same as speed and as displacement.
    pub(crate) fn gravity(
        &self,
        film: &FilmAtSensor,
        axis: SensedAxis,
        zeroed_at_rest: bool,
    ) -> (Vec<f64>, Vec<f64>) {
        let g = STANDARD_GRAVITY_M_S2;
        let at_rest = if zeroed_at_rest { resting_m_s2(film, axis, self.grid_s[0]) } else { 0.0 };
        let along: Vec<f64> = self
            .grid_s
            .iter()
            .zip(&self.secant)
            .map(|(&time_s, secant)| {
                let (angle_rad, other_m_s2) = film.between(time_s);
                let seen = match axis {
                    SensedAxis::X => (other_m_s2 + g) * angle_rad.tan(),
                    SensedAxis::Z => g - other_m_s2 * angle_rad.tan(),
                };
                seen - at_rest * secant
            })
            .collect();
        self.integrals(&along)
    }

    /// ∫ and ∬ of the channel over cos θ.
    pub(crate) fn channel_speed_and_place(&self, lag_s: f64) -> (Vec<f64>, Vec<f64>) {
        self.integrals(&self.along(lag_s, |record_s| self.reading(record_s)))
    }

    /// ∫ and ∬ of 1 over cos θ.
    pub(crate) fn offset_speed_and_place(&self) -> (Vec<f64>, Vec<f64>) {
        self.integrals(&self.secant)
    }

    /// The channel at the first frame.
    pub(crate) fn reading_at_start(&self, lag_s: f64) -> f64 {
        self.reading(self.grid_s[0] + lag_s)
    }

    fn twice(&self, along: &[f64]) -> Vec<f64> {
        self.integrals(along).1
    }

    /// Single and double integral of grid values (straight lines between them), at the frame times.
    fn integrals(&self, along: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let h = self.step_s;
        let (mut speed, mut moved) = (Vec::with_capacity(along.len()), Vec::with_capacity(along.len()));
        let (mut v, mut x) = (0.0, 0.0);
        speed.push(v);
        moved.push(x);
        for pair in along.windows(2) {
            x += v * h + (2.0 * pair[0] + pair[1]) * h * h / 6.0;
            v += 0.5 * (pair[0] + pair[1]) * h;
            speed.push(v);
            moved.push(x);
        }
        let last_step = along.len() - 2;
        self.frame_times_s
            .iter()
            .map(|time_s| {
                let step = step_before((time_s - self.grid_s[0]) / h, last_step);
                let rest_s = time_s - self.grid_s[step];
                let slope = (along[step + 1] - along[step]) / h;
                let speed_m_s = speed[step] + along[step] * rest_s + slope * rest_s * rest_s / 2.0;
                let moved_m = moved[step]
                    + speed[step] * rest_s
                    + along[step] * rest_s * rest_s / 2.0
                    + slope * rest_s.powi(3) / 6.0;
                (speed_m_s, moved_m)
            })
            .unzip()
    }
}

/// What the sensor would feel of gravity at a time when the vehicle does not accelerate.
pub(crate) fn resting_m_s2(film: &FilmAtSensor, axis: SensedAxis, time_s: f64) -> f64 {
    let (angle_rad, _) = film.between(time_s);
    match axis {
        SensedAxis::X => STANDARD_GRAVITY_M_S2 * angle_rad.sin(),
        SensedAxis::Z => STANDARD_GRAVITY_M_S2 * angle_rad.cos(),
    }
}

#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the window is bounded and the step has a lower limit, so the count is small"
)]
fn even_grid(from_s: f64, to_s: f64, wanted_step_s: f64) -> (Vec<f64>, f64) {
    let wanted_s = wanted_step_s.clamp(STEP_RANGE_S.0, STEP_RANGE_S.1);
    let n_steps = (((to_s - from_s) / wanted_s).ceil() as usize).max(1);
    let step_s = (to_s - from_s) / n_steps as f64;
    ((0..=n_steps).map(|index| from_s + index as f64 * step_s).collect(), step_s)
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a float cast saturates")]
fn step_before(place: f64, last_step: usize) -> usize {
    (place.max(0.0) as usize).min(last_step)
}
