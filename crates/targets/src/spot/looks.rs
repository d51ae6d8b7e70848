//! First looks at a few rays, which save reading every one where there is no rim.

use super::rays::Rays;
use super::rim::Change;

/// Rays of the first look; every fourth.
const N_LOOKS: usize = 12;
/// Least usual rise of those, of the least contrast, and least rise of all but two, of the usual one.
const LOOK_CONTRAST: f64 = 0.5;
const LOOK_SHARE: f32 = 0.3;

impl Rays<'_> {
    /// Whether a few rays leave the inside for the outside all round: a first look that saves reading every ray.
    pub(super) fn may_meet_rim(&self, reach: f64, change: Change, least_contrast: f64) -> bool {
        let (mut inside, mut outermost) = ([0.0_f32; N_LOOKS], [f32::NEG_INFINITY; N_LOOKS]);
        for number in self.numbers(0.15, reach).step_by(2) {
            let Some(levels) = self.source.some::<N_LOOKS>(number) else { break };
            let is_inside = (number as f64) * self.step < 0.4;
            for ((level, inside), outermost) in levels.iter().zip(&mut inside).zip(&mut outermost) {
                let level = change.of(*level);
                if is_inside {
                    *inside = level;
                } else {
                    *outermost = outermost.max(level);
                }
            }
        }
        let mut rises: [f32; N_LOOKS] = std::array::from_fn(|ray| outermost[ray] - inside[ray]);
        rises.sort_by(f32::total_cmp);
        let usual = rises[N_LOOKS / 2];
        f64::from(usual) >= LOOK_CONTRAST * least_contrast && rises[N_LOOKS / 6] >= LOOK_SHARE * usual
    }

    /// Whether most of a few rays, having changed as said, change back again.
    pub(super) fn may_turn_back(&self, reach: f64, change: Change, least_contrast: f64) -> bool {
        let (mut top, mut fall) = ([f32::NEG_INFINITY; N_LOOKS], [0.0_f32; N_LOOKS]);
        for number in self.numbers(0.4, reach).step_by(2) {
            let Some(levels) = self.source.some::<N_LOOKS>(number) else { break };
            for ((level, top), fall) in levels.iter().zip(&mut top).zip(&mut fall) {
                let level = change.of(*level);
                *top = top.max(level);
                *fall = fall.max(*top - level);
            }
        }
        let is_enough = |&&fall: &&f32| f64::from(fall) >= LOOK_CONTRAST * least_contrast;
        fall.iter().filter(is_enough).count() >= N_LOOKS - N_LOOKS / 6
    }
}
