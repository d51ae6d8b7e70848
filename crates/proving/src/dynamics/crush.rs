//! Cushion and front in series through a massless face: total shortening in, force and its two shares out.
//!
//! Both elements load along a rising curve and give back along a straight line, so the whole state is the deepest
//! squeeze reached: loading is a function of the total shortening alone, giving back is one line from that depth.

use crate::scene::{Cushion, Front};

/// Force and shortening of the pair.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Squeeze {
    /// Total shortening, m.
    pub total_m: f64,
    /// Force, N.
    pub force_n: f64,
    /// Share of the cushion, m.
    pub cushion_m: f64,
    /// Share of the front, m.
    pub front_m: f64,
    /// How much of a further shortening the front takes.
    pub front_slope: f64,
}

/// The two elements.
#[derive(Debug, Clone)]
pub(super) struct Series {
    cushion: Cushion,
    front: Option<Front>,
}

impl Series {
    pub(super) fn new(cushion: &Cushion, front: Option<&Front>) -> Self {
        Self { cushion: cushion.clone(), front: front.cloned() }
    }

    /// Along the loading curve.
    pub(super) fn loading(&self, total_m: f64) -> Squeeze {
        let total_m = total_m.max(0.0);
        let Some(front) = &self.front else {
            let force_n = self.cushion_force(total_m);
            return Squeeze { total_m, force_n, cushion_m: total_m, front_m: 0.0, front_slope: 0.0 };
        };
        let cushion_m = self.cushion_share(total_m, front.loading_n_per_m);
        let front_m = total_m - cushion_m;
        // Before a cushion with a plateau at once yields, the front alone gives.
        let stiffness = self.cushion_slope(cushion_m);
        let waits = cushion_m <= 0.0 && self.cushion.rise_m <= 0.0;
        let front_slope = if waits { 1.0 } else { stiffness / (stiffness + front.loading_n_per_m) };
        Squeeze { total_m, force_n: front.loading_n_per_m * front_m, cushion_m, front_m, front_slope }
    }

    /// Giving back from the deepest squeeze; the force may come out negative, which means the faces have parted.
    pub(super) fn unloading(&self, peak: &Squeeze, total_m: f64) -> Option<Squeeze> {
        let (cushion_back, front_back) = self.compliances();
        let compliance = cushion_back + front_back;
        (compliance > 0.0).then(|| {
            let drop_n = (peak.total_m - total_m) / compliance;
            Squeeze {
                total_m,
                force_n: peak.force_n - drop_n,
                cushion_m: peak.cushion_m - drop_n * cushion_back,
                front_m: peak.front_m - drop_n * front_back,
                front_slope: front_back / compliance,
            }
        })
    }

    /// What remains when the force is gone; `None` when nothing is given back.
    pub(super) fn free(&self, peak: &Squeeze) -> Option<Squeeze> {
        let (cushion_back, front_back) = self.compliances();
        let total_m = peak.total_m - peak.force_n * (cushion_back + front_back);
        self.unloading(peak, total_m).map(|free| Squeeze { force_n: 0.0, front_slope: 0.0, ..free })
    }

    fn compliances(&self) -> (f64, f64) {
        let back = |unloading: Option<f64>| unloading.map_or(0.0, |n_per_m| 1.0 / n_per_m);
        (
            back(self.cushion.unloading_n_per_m),
            back(self.front.as_ref().and_then(|front| front.unloading_n_per_m)),
        )
    }

    fn cushion_force(&self, stroke_m: f64) -> f64 {
        let cushion = &self.cushion;
        let built = if cushion.rise_m > 0.0 { -(-stroke_m / cushion.rise_m).exp_m1() } else { 1.0 };
        cushion.plateau_n * built + cushion.hardening_n_per_m * stroke_m
    }

    fn cushion_slope(&self, stroke_m: f64) -> f64 {
        let cushion = &self.cushion;
        let building = if cushion.rise_m > 0.0 {
            cushion.plateau_n / cushion.rise_m * (-stroke_m / cushion.rise_m).exp()
        } else {
            0.0
        };
        building + cushion.hardening_n_per_m
    }

    /// The stroke at which cushion and front push alike: the root of a rising function, by Newton inside a bracket.
    fn cushion_share(&self, total_m: f64, front_n_per_m: f64) -> f64 {
        let excess = |stroke: f64| self.cushion_force(stroke) - front_n_per_m * (total_m - stroke);
        if excess(0.0) >= 0.0 {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, total_m);
        let mut stroke = 0.5 * total_m;
        for _ in 0..100 {
            let over = excess(stroke);
            if over > 0.0 {
                high = stroke;
            } else {
                low = stroke;
            }
            let next = stroke - over / (self.cushion_slope(stroke) + front_n_per_m);
            let next = if next > low && next < high { next } else { 0.5 * (low + high) };
            if (next - stroke).abs() <= 1e-15 * total_m {
                return next;
            }
            stroke = next;
        }
        stroke
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair() -> Series {
        let cushion = Cushion {
            length_m: 1.5,
            plateau_n: 9e4,
            rise_m: 0.05,
            hardening_n_per_m: 3e4,
            unloading_n_per_m: Some(8e6),
        };
        Series::new(
            &cushion,
            Some(&Front { loading_n_per_m: 4e5, unloading_n_per_m: Some(3e6), zone_m: 0.8 }),
        )
    }

    #[test]
    fn both_elements_carry_the_same_force() {
        let pair = pair();
        for step in 1..100 {
            let squeeze = pair.loading(f64::from(step) * 0.01);
            assert!((pair.cushion_force(squeeze.cushion_m) - squeeze.force_n).abs() < 1e-6);
            assert!((squeeze.cushion_m + squeeze.front_m - squeeze.total_m).abs() < 1e-12);
        }
    }

    #[test]
    fn giving_back_starts_at_the_peak_and_ends_without_force() {
        let pair = pair();
        let peak = pair.loading(1.0);
        let same = pair.unloading(&peak, 1.0).unwrap();
        assert!((same.force_n - peak.force_n).abs() < 1e-9);
        let free = pair.free(&peak).unwrap();
        assert!(pair.unloading(&peak, free.total_m).unwrap().force_n.abs() < 1e-6);
        assert!(free.front_m < peak.front_m && free.front_m > 0.5 * peak.front_m);
    }

    #[test]
    fn the_front_slope_is_the_derivative_of_its_share() {
        let pair = pair();
        let (low, high) = (pair.loading(0.3 - 1e-5), pair.loading(0.3 + 1e-5));
        let slope = (high.front_m - low.front_m) / 2e-5;
        assert!((slope - pair.loading(0.3).front_slope).abs() < 1e-6);
    }
}
