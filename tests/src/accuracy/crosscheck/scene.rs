//! Impacts with exact motion: what film and sensors would record of them, with noise, errors drawn from stated doubts, and faults.

use super::planted::Planted;
use filmgauge_crosscheck::{FilmAtSensor, OtherAxis, SensedAxis};
use filmgauge_sensors::{CfcClass, Channel, StartRule, cfc};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::f64::consts::PI;
use std::path::PathBuf;

const G: f64 = 9.806_65;
/// Step of the exact motion, s.
const FINE_S: f64 = 2e-5;
const FROM_S: f64 = -0.15;
const TO_S: f64 = 0.42;
const SAMPLE_S: f64 = 1e-4;

/// Draws of one rehearsal, in a fixed order.
pub(super) struct Draws(Xoshiro256PlusPlus);

impl Draws {
    pub(super) fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    pub(super) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Even between two numbers.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        // The distribution function of the normal, near enough for a draw and without another dependency.
        let z = self.normal();
        low + (high - low) * 0.5 * (1.0 + libm::erf(z / std::f64::consts::SQRT_2))
    }

    pub(super) fn sign(&mut self) -> f64 {
        if self.normal() < 0.0 { -1.0 } else { 1.0 }
    }
}

/// How a vehicle moves, drawn: a stop with swings of its structure on it, a hop and a pitch.
pub(super) struct Scene {
    peak_m_s2: f64,
    long_s: f64,
    swing: [f64; 3],
    hop: [f64; 2],
    pitch_rad: f64,
    sideways: [f64; 2],
    speed_m_s: f64,
    /// Noise of a film position, m, and of a sample, m/s².
    film_m: f64,
    sensor_m_s2: f64,
}

/// Doubts that all frames share: scale, time zero, film speed.
const SCALE_U: f64 = 0.003;
const TIME_U_S: f64 = 0.000_1;
const SPEED_U: f64 = 0.000_5;

impl Scene {
    pub(super) fn drawn(draws: &mut Draws) -> Self {
        Self {
            peak_m_s2: draws.between(150.0, 330.0),
            long_s: draws.between(0.08, 0.14),
            swing: [draws.between(20.0, 70.0), draws.between(40.0, 90.0), draws.between(0.015, 0.03)],
            hop: [draws.between(15.0, 30.0), draws.between(4.0, 8.0)],
            pitch_rad: draws.between(0.02, 0.07),
            sideways: [draws.between(10.0, 40.0), draws.between(8.0, 20.0)],
            speed_m_s: draws.between(12.0, 28.0),
            film_m: draws.between(0.000_3, 0.000_8),
            sensor_m_s2: draws.between(0.3, 0.8),
        }
    }

    fn along_m_s2(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        let stop = if t < self.long_s { -self.peak_m_s2 * (PI * t / self.long_s).sin().powi(2) } else { 0.0 };
        let [size, hz, fades_s] = self.swing;
        stop + size * (-t / fades_s).exp() * (2.0 * PI * hz * t).sin() * (1.0 - (-t / 0.003).exp())
    }

    fn up_m_s2(&self, t: f64) -> f64 {
        let [size, hz] = self.hop;
        if t <= 0.0 { 0.0 } else { size * (-t / 0.08).exp() * (2.0 * PI * hz * t).sin() }
    }

    fn angle_rad(&self, t: f64) -> f64 {
        if t <= 0.0 { 0.002 } else { 0.002 + self.pitch_rad * (PI * t / 0.5).sin().powi(2) }
    }

    fn own_m_s2(&self, axis: SensedAxis, t: f64) -> f64 {
        if axis == SensedAxis::X { self.along_m_s2(t) } else { self.up_m_s2(t) }
    }

    /// What a sound sensor would feel along an axis; `None` is sideways, which the film does not see.
    pub(super) fn felt_m_s2(&self, axis: Option<SensedAxis>, t: f64) -> f64 {
        let (sin, cos) = self.angle_rad(t).sin_cos();
        match axis {
            Some(SensedAxis::X) => self.along_m_s2(t) * cos + (self.up_m_s2(t) + G) * sin,
            Some(SensedAxis::Z) => -self.along_m_s2(t) * sin + (self.up_m_s2(t) + G) * cos,
            None if t <= 0.0 => 0.0,
            None => self.sideways[0] * (-t / 0.06).exp() * (2.0 * PI * self.sideways[1] * t).sin(),
        }
    }

    /// Exact positions on the fine grid.
    pub(super) fn positions_m(&self, axis: SensedAxis) -> Vec<f64> {
        let (mut x, mut v) = (0.0, if axis == SensedAxis::X { self.speed_m_s } else { 0.0 });
        grid(FROM_S, TO_S, FINE_S)
            .map(|t| {
                let here = x;
                let (a0, a1) = (self.own_m_s2(axis, t), self.own_m_s2(axis, t + FINE_S));
                x += v * FINE_S + (2.0 * a0 + a1) * FINE_S * FINE_S / 6.0;
                v += 0.5 * (a0 + a1) * FINE_S;
                here
            })
            .collect()
    }

    /// Film of the sensor's place at 1000 frames/s with a gap of 20 frames. Shared errors are drawn from their doubts.
    pub(super) fn film(&self, axis: SensedAxis, draws: &mut Draws) -> FilmAtSensor {
        self.film_and_lateness(axis, draws).0
    }

    /// The same, and by how much the film's clock is late, s.
    pub(super) fn film_and_lateness(&self, axis: SensedAxis, draws: &mut Draws) -> (FilmAtSensor, f64) {
        let scale = 1.0 + SCALE_U * draws.normal();
        let (late_s, speed) = (TIME_U_S * draws.normal(), 1.0 + SPEED_U * draws.normal());
        let times_s: Vec<f64> = (0..350).map(|i| -0.05 + f64::from(i) * 0.001 + 0.000_13).collect();
        let mut seen = |axis: SensedAxis| {
            let exact = self.positions_m(axis);
            let position = |(frame, &t): (usize, &f64)| {
                let m = scale * between(&exact, t * speed + late_s) + self.film_m * draws.normal();
                (!(120..140).contains(&frame)).then_some((m, self.film_m.powi(2)))
            };
            times_s.iter().enumerate().map(position).collect::<Vec<_>>()
        };
        let (position_m, other_m) = (seen(axis), seen(axis.other()));
        let film = FilmAtSensor {
            angle_rad: times_s.iter().map(|&t| self.angle_rad(t)).collect(),
            other_acceleration_m_s2: times_s.iter().map(|&t| self.own_m_s2(axis.other(), t)).collect(),
            other: Some(OtherAxis {
                position_m: other_m,
                own_acceleration_m_s2: times_s.iter().map(|&t| self.own_m_s2(axis, t)).collect(),
            }),
            position_m,
            times_s,
            gain_relative_u: SCALE_U,
            time_u_s: TIME_U_S,
            speed_relative_u: SPEED_U,
            contact_s: 0.0,
        };
        (film, late_s)
    }

    /// The record of a sensor with a fault, through the class that its code states.
    pub(super) fn channel(&self, axis: SensedAxis, planted: &Planted, draws: &mut Draws) -> Channel {
        let sensed = match planted {
            Planted::OtherAxis => Some(axis.other()),
            Planted::Sideways => None,
            _ => Some(axis),
        };
        let felt: Vec<f64> =
            grid(FROM_S, TO_S, FINE_S).map(|t| self.felt_m_s2(sensed, t - planted.late_s())).collect();
        let felt = planted.mount(&felt, FINE_S);
        let raw: Vec<f64> = grid(-0.12, 0.4, SAMPLE_S)
            .map(|t| between(&felt, t) + self.sensor_m_s2 * draws.normal())
            .collect();
        let (letter, class) = planted.stated_and_run();
        let filtered = match class {
            Some(class) => cfc(&raw, 1.0 / SAMPLE_S, class, StartRule::default()).unwrap_or(raw),
            None => raw,
        };
        let direction = if axis == SensedAxis::X { 'X' } else { 'Z' };
        let mut channel = Channel {
            code: format!("10CVEHCG0000AC{direction}{letter}"),
            unit: "m/s2".to_owned(),
            start_s: -0.12,
            step_s: SAMPLE_S,
            values: filtered,
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        };
        planted.spoil(&mut channel);
        channel
    }
}

/// The class that sound channels are stored in.
pub(super) const USUAL: (char, Option<CfcClass>) = ('A', Some(CfcClass::Cfc1000));

fn grid(from_s: f64, to_s: f64, step_s: f64) -> impl Iterator<Item = f64> {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few ten thousand steps")]
    let n = ((to_s - from_s) / step_s).round() as u32;
    (0..=n).map(move |i| from_s + f64::from(i) * step_s)
}

/// A value of the fine grid on straight lines.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the grid covers what is asked of it"
)]
pub(super) fn between(exact: &[f64], t: f64) -> f64 {
    let place = ((t - FROM_S) / FINE_S).clamp(0.0, (exact.len() - 2) as f64);
    let before = place as usize;
    let share = place - before as f64;
    exact[before] * (1.0 - share) + exact[before + 1] * share
}
