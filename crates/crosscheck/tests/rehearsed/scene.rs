//! A car pulse with exact motion: what film and sensors would record of it, with noise and planted faults.

use filmgauge_crosscheck::{FilmAtSensor, SensedAxis};
use filmgauge_sensors::Channel;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::f64::consts::PI;
use std::path::PathBuf;

const G: f64 = 9.806_65;
/// Step of the exact motion, s.
const FINE_S: f64 = 1e-5;
const FROM_S: f64 = -0.15;
const TO_S: f64 = 0.40;
const CONTACT_SPEED_M_S: f64 = 14.444;

/// What is wrong with a sensor.
#[derive(Debug, Clone, Copy)]
pub struct Planted {
    pub gain: f64,
    pub offset_m_s2: f64,
    pub lag_s: f64,
}

pub const SOUND: Planted = Planted { gain: 1.0, offset_m_s2: 0.0, lag_s: 0.0 };

/// What blurs the comparison.
#[derive(Debug, Clone, Copy)]
pub struct Doubts {
    /// Standard deviation of a position, m.
    pub film_m: f64,
    /// Standard deviation of a sample of the channel, m/s².
    pub sensor_m_s2: f64,
    /// Relative standard uncertainty of scale.
    pub scale: f64,
    /// Standard uncertainty of time zero, s.
    pub time_s: f64,
}

pub const USUAL: Doubts = Doubts { film_m: 0.0005, sensor_m_s2: 0.5, scale: 0.003, time_s: 0.0001 };

/// Exact motion on a fine grid.
pub struct Scene {
    axis: SensedAxis,
    position_m: Vec<f64>,
    /// Share of the vertical motion and pitch that is there: 1 a lively car, 0 none.
    lively: f64,
}

/// A lively pulse along the path: a haversine stop with a ringing structure on it.
fn along_m_s2(t: f64) -> f64 {
    if t <= 0.0 {
        return 0.0;
    }
    let stop = if t < 0.11 { -260.0 * (PI * t / 0.11).sin().powi(2) } else { 0.0 };
    stop + 60.0 * (-t / 0.02).exp() * (2.0 * PI * 70.0 * t).sin() * (1.0 - (-t / 0.003).exp())
}

fn up_m_s2(t: f64) -> f64 {
    if t <= 0.0 { 0.0 } else { 25.0 * (-t / 0.08).exp() * (2.0 * PI * 6.0 * t).sin() }
}

fn pitch_rad(t: f64) -> f64 {
    if t <= 0.0 { 0.002 } else { 0.002 + 0.06 * (PI * t / 0.5).sin().powi(2) }
}

impl Scene {
    pub fn new(axis: SensedAxis, lively: f64) -> Self {
        let mut scene = Self { axis, position_m: Vec::new(), lively };
        let (mut x, mut v) = (0.0, if matches!(axis, SensedAxis::X) { CONTACT_SPEED_M_S } else { 0.0 });
        let n_steps = ((TO_S - FROM_S) / FINE_S).round() as usize;
        for i in 0..=n_steps {
            scene.position_m.push(x);
            let t = FROM_S + i as f64 * FINE_S;
            let (a0, a1) = (scene.own_m_s2(t), scene.own_m_s2(t + FINE_S));
            x += v * FINE_S + (2.0 * a0 + a1) * FINE_S * FINE_S / 6.0;
            v += 0.5 * (a0 + a1) * FINE_S;
        }
        scene
    }

    fn own_m_s2(&self, t: f64) -> f64 {
        match self.axis {
            SensedAxis::X => along_m_s2(t),
            SensedAxis::Z => self.lively * up_m_s2(t),
        }
    }

    fn other_m_s2(&self, t: f64) -> f64 {
        match self.axis {
            SensedAxis::X => self.lively * up_m_s2(t),
            SensedAxis::Z => self.lively * along_m_s2(t),
        }
    }

    fn angle_rad(&self, t: f64) -> f64 {
        self.lively * pitch_rad(t)
    }

    fn specific_force(&self, t: f64) -> f64 {
        let (sin, cos) = self.angle_rad(t).sin_cos();
        match self.axis {
            SensedAxis::X => self.own_m_s2(t) * cos + (self.other_m_s2(t) + G) * sin,
            SensedAxis::Z => -self.other_m_s2(t) * sin + (self.own_m_s2(t) + G) * cos,
        }
    }

    pub fn position_at(&self, t: f64) -> f64 {
        let place = (t - FROM_S) / FINE_S;
        let before = place.floor() as usize;
        let share = place - before as f64;
        self.position_m[before] * (1.0 - share) + self.position_m[before + 1] * share
    }

    /// Film and channel of one run. Errors that all frames share are drawn from their uncertainties.
    pub fn run(&self, planted: Planted, doubts: Doubts, seed: u64) -> (FilmAtSensor, Channel) {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let mut normal = move || Distribution::<f64>::sample(&StandardNormal, &mut random);
        let scale = 1.0 + doubts.scale * normal();
        let late_s = doubts.time_s * normal();
        let times_s: Vec<f64> = (0..350).map(|i| -0.05 + f64::from(i) * 0.001 + 0.000_13).collect();
        let position_m = times_s
            .iter()
            .enumerate()
            .map(|(frame, &t)| {
                let m = scale * self.position_at(t + late_s) + doubts.film_m * normal();
                (!(120..140).contains(&frame)).then_some((m, doubts.film_m.powi(2)))
            })
            .collect();
        let film = FilmAtSensor {
            angle_rad: times_s.iter().map(|&t| self.angle_rad(t)).collect(),
            other_acceleration_m_s2: times_s.iter().map(|&t| self.other_m_s2(t)).collect(),
            position_m,
            times_s,
            gain_relative_u: doubts.scale,
            time_u_s: doubts.time_s,
            speed_relative_u: 0.0,
            contact_s: 0.0,
            other: None,
        };
        let values = (0..4500).map(|i| {
            let t = -0.1 + f64::from(i) * 1e-4;
            let truth = self.specific_force(t - planted.lag_s);
            planted.gain * truth + planted.offset_m_s2 + doubts.sensor_m_s2 * normal()
        });
        (film, channel(-0.1, 1e-4, values.collect()))
    }
}

pub fn channel(start_s: f64, step_s: f64, values: Vec<f64>) -> Channel {
    Channel {
        code: "10CVEHCG0000ACXP".to_owned(),
        unit: "m/s2".to_owned(),
        start_s,
        step_s,
        values,
        file: PathBuf::new(),
        comments: Vec::new(),
        steps: Vec::new(),
    }
}
