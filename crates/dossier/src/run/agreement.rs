//! Published figures of how alike film and channel are: the speed change since contact of the sensor's place, by both.

use super::budget::Budgeted;
use super::channels::{Record, acceleration};
use super::evaluate::BodyState;
use super::sensor_findings::prepared;
use crate::options::RunOptions;
use filmgauge_crosscheck::agreement::{
    RatingOptions, normalised_error, rating, residual_figures, sprague_geers,
};
use filmgauge_crosscheck::{Measured, SensedAxis};
use filmgauge_motion::Smoothed;
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use filmgauge_results::AgreementFigures;
use filmgauge_sensors::{Channel, Interpolation};

/// The figures; `None` where the curves do not overlap for long enough or one of them is flat.
pub(crate) fn figures(
    camera: &Budgeted<'_>,
    (body, angle): (&BodyState, &Smoothed),
    record: &Record<'_>,
    axis: SensedAxis,
    options: &RunOptions,
) -> Option<AgreementFigures> {
    let channel = record.channel.as_ref().ok()?;
    let contact_s = camera.motion.contact_s();
    let (zeroed, zero_u_m_s2) = prepared(channel, &record.plan.without, contact_s, options).ok()?;
    let place = Place { body, angle, record, axis };
    let by_channel = place.speed_by_channel(&zeroed, contact_s)?;
    let until_s = zeroed.end_s().min(contact_s + options.crosscheck.after_contact_s);
    let frames: Vec<usize> = (0..angle.times_s.len())
        .filter(|&frame| (contact_s..=until_s).contains(&angle.times_s[frame]))
        .collect();
    let (first, last) = (*frames.first()?, *frames.last()?);
    let film: Vec<f64> = frames.iter().map(|&frame| place.speed(frame) - place.speed(first)).collect();
    let start_m_s = by_channel.at(angle.times_s[first], Interpolation::Linear)?;
    let sensor: Vec<f64> = frames
        .iter()
        .map(|&frame| Some(by_channel.at(angle.times_s[frame], Interpolation::Linear)? - start_m_s))
        .collect::<Option<_>>()?;
    let rated = rating(&film, &sensor, &RatingOptions::default()).ok()?;
    let geers = sprague_geers(&film, &sensor).ok()?;
    let residuals = residual_figures(&film, &sensor).ok()?;
    let (change, other) = (film.last().copied()?, sensor.last().copied()?);
    let variance = |frame: usize| place.curve().covs[frame][1][1].max(0.0);
    let marks_u = (variance(first) + variance(last)).sqrt();
    let film_u = marks_u.hypot(camera.travel_relative_u(body) * change);
    let sensor_u = zero_u_m_s2 * (angle.times_s[last] - angle.times_s[first]);
    Some(AgreementFigures {
        compared: format!(
            "speed change {} over {:.0} ms from contact, {} frames",
            if axis == SensedAxis::X { "along the path" } else { "upwards" },
            1e3 * (angle.times_s[last] - angle.times_s[first]),
            frames.len()
        ),
        rating: rated.overall,
        grade: rated.grade().word().to_owned(),
        rating_parts: [rated.corridor, rated.phase, rated.magnitude, rated.slope],
        sprague_geers: [geers.magnitude, geers.phase, geers.both],
        residuals: [residuals.mean, residuals.sd],
        normalised_error: normalised_error(
            Measured { value: other, u: sensor_u },
            Measured { value: change, u: film_u },
        ),
    })
}

/// The sensor's place on its body.
struct Place<'a> {
    body: &'a BodyState,
    angle: &'a Smoothed,
    record: &'a Record<'a>,
    axis: SensedAxis,
}

impl Place<'_> {
    fn curve(&self) -> &Smoothed {
        if self.axis == SensedAxis::X { &self.body.motion.x } else { &self.body.motion.z }
    }

    /// Inertial speed by film, m/s.
    fn speed(&self, frame: usize) -> f64 {
        let [angle_rad, rate, _, _] = self.angle.states[frame];
        let lever = self.record.plan.at.turned(angle_rad + std::f64::consts::FRAC_PI_2);
        let along = if self.axis == SensedAxis::X { lever.x_m } else { lever.z_m };
        self.curve().states[frame][1] + rate * along
    }

    /// Inertial speed by the channel, from 0 at its first sample: gravity and the other axis are taken out by the film's pitch.
    /// Taking out the zero has taken out gravity at rest.
    fn speed_by_channel(&self, zeroed: &Channel, contact_s: f64) -> Option<Channel> {
        let g = STANDARD_GRAVITY_M_S2;
        let other: Vec<f64> = (0..self.angle.times_s.len())
            .map(|frame| acceleration(self.body, self.angle, self.record.plan.at, frame, self.axis.other()))
            .collect();
        let angles: Vec<f64> = self.angle.states.iter().map(|state| state[0]).collect();
        let between = |values: &[f64], at_s: f64| on_lines(&self.angle.times_s, values, at_s);
        let (rest_sin, rest_cos) = between(&angles, contact_s)?.sin_cos();
        let mut inertial = zeroed.clone();
        for index in 0..inertial.values.len() {
            let at_s = zeroed.time_s(index);
            let (sin, cos) = between(&angles, at_s)?.sin_cos();
            let other_m_s2 = between(&other, at_s)?;
            inertial.values[index] = match self.axis {
                SensedAxis::X => (zeroed.values[index] + g * rest_sin - (other_m_s2 + g) * sin) / cos,
                SensedAxis::Z => (zeroed.values[index] + g * rest_cos + other_m_s2 * sin) / cos - g,
            };
        }
        filmgauge_sensors::integrate(&inertial, 0.0).ok()
    }
}

/// A value between frames on straight lines, held beyond the ends; `None` without frames.
fn on_lines(times_s: &[f64], values: &[f64], at_s: f64) -> Option<f64> {
    let after = times_s.partition_point(|&frame_s| frame_s < at_s);
    if after == 0 {
        return values.first().copied();
    }
    let Some(&next_s) = times_s.get(after) else { return values.last().copied() };
    let share = (at_s - times_s[after - 1]) / (next_s - times_s[after - 1]);
    Some(values[after - 1] + share * (values[after] - values[after - 1]))
}
