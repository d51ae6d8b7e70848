//! The rehearsals of the accuracy tables: the sample scene with another seed and, by turns, another planted fault.

use filmgauge_proving::{Fault, Scene};

/// Channels that carry the planted faults by turns: the car's own forward channels and the truck's.
const CHANNELS: [&str; 3] = ["10CVEHCG0000ACXP", "10FLORRE0000ACXP", "20CHASCG0000ACXP"];

/// What is planted in one rehearsal.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantedCase {
    /// Channel code.
    pub channel: &'static str,
    /// Fault.
    pub fault: Fault,
}

impl PlantedCase {
    /// The case of a seed: faults and channels take turns.
    #[must_use]
    pub fn of(seed: u64) -> Self {
        let fault = match seed % 4 {
            0 => Fault::Gain { factor: 1.08 },
            1 => Fault::Offset { m_s2: 3.0 },
            2 => Fault::Polarity,
            _ => Fault::Delay { s: 0.003 },
        };
        let turn = usize::try_from(seed / 4 % 3).unwrap_or(0);
        Self { channel: CHANNELS[turn], fault }
    }
}

/// The sample scene with a seed, noise of 2.5 grey and the seed's planted fault.
#[must_use]
pub fn scene(sample: &Scene, seed: u64) -> Scene {
    let mut scene = sample.clone();
    scene.seed = seed;
    for camera in &mut scene.cameras {
        camera.picture.noise_grey = 2.5;
    }
    let case = PlantedCase::of(seed);
    for channel in &mut scene.channels {
        channel.faults.clear();
        if channel.code == case.channel {
            channel.faults.push(case.fault);
        }
    }
    scene
}
