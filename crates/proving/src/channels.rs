//! Accelerometer records: specific force at the sensor's place, with noise, offset and planted faults.

use crate::dynamics::{BodyInstant, Truth};
use crate::random::Stream;
use crate::scene::{BodyName, ChannelSetup, Fault, Scene, SensedAxis};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use std::path::PathBuf;

/// Record before time zero, s.
const BEFORE_S: f64 = 0.1;

/// One channel as the recorder stored it.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordedChannel {
    /// Channel code, or the column's header in a CSV file.
    pub code: String,
    /// Unit of the values: `m/s2` or `g`.
    pub unit: String,
    /// Body that carries the sensor.
    pub body: BodyName,
    /// Direction that it feels, vehicle axes.
    pub axis: SensedAxis,
    /// Place from the c.g.: forward and up, m.
    pub at_m: [f64; 2],
    /// Time of the first sample, seconds from time zero.
    pub start_s: f64,
    /// Time between samples, s.
    pub step_s: f64,
    /// The samples, in `unit`.
    pub values: Vec<f64>,
    /// File relative to the dossier.
    pub file: PathBuf,
}

/// All channels of the scene, from 0.1 s before time zero to the end of the film.
#[must_use]
pub fn channels(scene: &Scene, truth: &Truth) -> Vec<RecordedChannel> {
    scene
        .channels
        .iter()
        .enumerate()
        .map(|(index, setup)| recorded(scene, truth, setup, index as u64))
        .collect()
}

fn recorded(scene: &Scene, truth: &Truth, setup: &ChannelSetup, index: u64) -> RecordedChannel {
    let mut noise = Stream::new(scene.seed, "channel", index, 0);
    let step_s = 1.0 / setup.samples_per_s;
    let per_unit = if setup.unit == "g" { STANDARD_GRAVITY_M_S2 } else { 1.0 };
    let delay_s: f64 =
        setup.faults.iter().map(|fault| if let Fault::Delay { s } = fault { *s } else { 0.0 }).sum();
    let n_samples = samples(BEFORE_S + scene.after_s, setup.samples_per_s);
    let values = (0..n_samples)
        .map(|i| {
            let t_s = f64::from(i) / setup.samples_per_s - BEFORE_S - delay_s;
            let now = truth.at(t_s);
            let pose = if setup.body == BodyName::Truck { now.truck } else { now.car };
            let felt = specific_force(&pose, setup.axis, setup.at_m) + noise.normal(setup.noise_m_s2);
            faulty(felt + setup.offset_m_s2, &setup.faults) / per_unit
        })
        .collect();
    RecordedChannel {
        code: setup.code.clone(),
        unit: setup.unit.clone(),
        body: setup.body,
        axis: setup.axis,
        at_m: setup.at_m,
        start_s: -BEFORE_S,
        step_s,
        values,
        file: PathBuf::from(&setup.file),
    }
}

/// What an accelerometer feels: its place's acceleration less gravity, along the body's own axes; x forward, z up,
/// nose-up pitch (rigid-body kinematics in the plane).
fn specific_force(pose: &BodyInstant, axis: SensedAxis, at_m: [f64; 2]) -> f64 {
    let (sin, cos) = pose.pitch_rad.sin_cos();
    let up = pose.az_m_s2 + STANDARD_GRAVITY_M_S2;
    let rate2 = pose.pitch_rate_rad_s * pose.pitch_rate_rad_s;
    match axis {
        SensedAxis::X => {
            pose.ax_m_s2 * cos + up * sin - pose.pitch_acceleration_rad_s2 * at_m[1] - rate2 * at_m[0]
        }
        SensedAxis::Z => {
            -pose.ax_m_s2 * sin + up * cos + pose.pitch_acceleration_rad_s2 * at_m[0] - rate2 * at_m[1]
        }
    }
}

fn faulty(felt: f64, faults: &[Fault]) -> f64 {
    faults.iter().fold(felt, |value, fault| match fault {
        Fault::Gain { factor } => value * factor,
        Fault::Offset { m_s2 } => value + m_s2,
        Fault::Polarity => -value,
        Fault::Delay { .. } => value,
    })
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the range of u32")]
fn samples(span_s: f64, samples_per_s: f64) -> u32 {
    (span_s * samples_per_s).round().clamp(1.0, 1e8) as u32 + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed from the stated formula: fx = aX cos + (aZ + g) sin, fz = -aX sin + (aZ + g) cos at 5 degrees nose up.
    #[test]
    fn specific_force_of_a_pitching_vehicle() {
        let g = STANDARD_GRAVITY_M_S2;
        for (ax, az, fx, fz) in [
            (0.0, 0.0, 0.087_156, 0.996_195),
            (-15.0, 0.0, -14.855_765, 2.303_531),
            (-15.0, 2.0, -14.681_453, 4.295_920),
        ] {
            let pose = BodyInstant {
                pitch_rad: 5.0_f64.to_radians(),
                ax_m_s2: ax * g,
                az_m_s2: az * g,
                ..BodyInstant::default()
            };
            assert!((specific_force(&pose, SensedAxis::X, [0.0, 0.0]) / g - fx).abs() < 5.1e-7);
            assert!((specific_force(&pose, SensedAxis::Z, [0.0, 0.0]) / g - fz).abs() < 5.1e-7);
        }
    }

    /// Computed from the stated formula a_sensor - a_cg = (-q' rz - q² rx, q' rx - q² rz): r = (-0.5, -0.3) m,
    /// q = 60 degrees/s, q' = 900 degrees/s².
    #[test]
    fn lever_arms_add_rotation() {
        let pose = BodyInstant {
            pitch_rate_rad_s: 60.0_f64.to_radians(),
            pitch_acceleration_rad_s2: 900.0_f64.to_radians(),
            ..BodyInstant::default()
        };
        let g = STANDARD_GRAVITY_M_S2;
        let arm = |axis| specific_force(&pose, axis, [-0.5, -0.3]) / g;
        assert!((arm(SensedAxis::X) - 0.536_442).abs() < 5.1e-7);
        assert!((arm(SensedAxis::Z) - 1.0 + 0.767_336).abs() < 5.1e-7);
    }

    #[test]
    fn faults_act_in_their_order() {
        let faults = [Fault::Gain { factor: 1.1 }, Fault::Polarity, Fault::Offset { m_s2: 2.0 }];
        assert!((faulty(10.0, &faults) + 9.0).abs() < 1e-12);
    }
}
