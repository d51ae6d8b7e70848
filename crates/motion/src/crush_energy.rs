//! Energy that a crush profile stands for by the linear model A, B, G, and the speeds that follow. For orientation only:
//! stiffness differs from car to car.
//!
//! Force per width is A + B C over the depth C, with G = A²/2B for what the face takes before it stays crushed
//! (DOT-HS-805-732, 1981; the formula for a profile of straight stretches is from memory and checked by integrating it).

use crate::crush_profile::CRUSH_STATIONS;
use crate::{CrushProfile, MotionFailure};

/// Stiffness of a face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stiffness {
    /// Force per width at which crush begins to stay, N/m.
    pub a_n_per_m: f64,
    /// Growth of the force per width with depth, N/m².
    pub b_n_per_m2: f64,
}

impl Stiffness {
    /// Stiffness from barrier tests, whose speed rises with the mean crush as `speed_m_s` + `slope_per_s` C.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] for a mass, width or slope that is not greater than 0, or a negative speed.
    pub fn from_barrier(
        speed_m_s: f64,
        slope_per_s: f64,
        mass_kg: f64,
        width_m: f64,
    ) -> Result<Self, MotionFailure> {
        for (setting, value) in [("slope_per_s", slope_per_s), ("mass_kg", mass_kg), ("width_m", width_m)] {
            positive(setting, value)?;
        }
        if !(speed_m_s.is_finite() && speed_m_s >= 0.0) {
            let rule = "the speed without lasting crush must be 0 or more";
            return Err(MotionFailure::Setting { setting: "speed_m_s", value: speed_m_s, rule });
        }
        Ok(Self {
            a_n_per_m: mass_kg * speed_m_s * slope_per_s / width_m,
            b_n_per_m2: mass_kg * slope_per_s * slope_per_s / width_m,
        })
    }

    /// G = A²/2B, N.
    #[must_use]
    pub fn g_n(&self) -> f64 {
        self.a_n_per_m * self.a_n_per_m / (2.0 * self.b_n_per_m2)
    }

    /// Checks that A is 0 or more and B greater than 0.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), MotionFailure> {
        if !(self.a_n_per_m.is_finite() && self.a_n_per_m >= 0.0) {
            let rule = "it must be 0 or more";
            return Err(MotionFailure::Setting { setting: "a_n_per_m", value: self.a_n_per_m, rule });
        }
        positive("b_n_per_m2", self.b_n_per_m2)
    }
}

/// Energy of a profile, J. `force_angle_rad` lies between the force and the normal of the face, below a right angle.
///
/// # Errors
/// [`MotionFailure::Setting`] for a stiffness or an angle out of range.
pub fn crush_energy_j(
    profile: &CrushProfile,
    stiffness: &Stiffness,
    force_angle_rad: f64,
) -> Result<f64, MotionFailure> {
    stiffness.check()?;
    let is_acute = force_angle_rad.is_finite() && force_angle_rad.abs() < std::f64::consts::FRAC_PI_2;
    if !is_acute {
        let rule = "it must be less than a right angle";
        return Err(MotionFailure::Setting { setting: "force_angle_rad", value: force_angle_rad, rule });
    }
    let depths = profile.depths_m();
    let ends = |i: usize| if i == 0 || i == CRUSH_STATIONS - 1 { 1.0 } else { 2.0 };
    let linear: f64 = depths.iter().enumerate().map(|(i, depth)| ends(i) * depth).sum();
    let squares: f64 = depths.iter().enumerate().map(|(i, depth)| ends(i) * depth * depth).sum();
    let products: f64 = depths.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let per_stretch = 0.5 * stiffness.a_n_per_m * linear
        + stiffness.b_n_per_m2 / 6.0 * (squares + products)
        + 5.0 * stiffness.g_n();
    let slant = 1.0 + force_angle_rad.tan().powi(2);
    Ok(profile.width_m() / 5.0 * per_stretch * slant)
}

/// Speed into a rigid barrier that would take the same energy: √(2 E / m), m/s. `None` unless the mass is greater than 0
/// and the energy 0 or more.
#[must_use]
pub fn barrier_speed_m_s(energy_j: f64, mass_kg: f64) -> Option<f64> {
    (mass_kg > 0.0 && energy_j >= 0.0).then(|| (2.0 * energy_j / mass_kg).sqrt())
}

/// One body of an off-centre impact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StruckMass {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Radius of gyration about the upright axis, m; not needed where the lever is 0.
    pub gyration_m: f64,
    /// Distance of the line of force from the c.g., m.
    pub lever_m: f64,
}

impl StruckMass {
    /// A body struck through its c.g.
    #[must_use]
    pub fn central(mass_kg: f64) -> Self {
        Self { mass_kg, gyration_m: 1.0, lever_m: 0.0 }
    }

    /// Mass that the point of contact feels: m k² / (k² + h²).
    fn felt_kg(&self) -> f64 {
        let (k2, h2) = (self.gyration_m.powi(2), self.lever_m.powi(2));
        self.mass_kg * k2 / (k2 + h2)
    }
}

/// Speed changes of both c.g.s, m/s, when the points of contact reach one common speed and `energy_j` is absorbed: the
/// impulse √(2 E μ) of the felt masses over each mass. `None` unless masses are greater than 0 and the energy 0 or more.
#[must_use]
pub fn speed_changes_m_s(energy_j: f64, first: StruckMass, second: StruckMass) -> Option<[f64; 2]> {
    let felt = [first.felt_kg(), second.felt_kg()];
    let usable = felt.iter().all(|mass| mass.is_finite() && *mass > 0.0) && energy_j >= 0.0;
    let impulse = (2.0 * energy_j * felt[0] * felt[1] / (felt[0] + felt[1])).sqrt();
    usable.then(|| [impulse / first.mass_kg, impulse / second.mass_kg])
}

fn positive(setting: &'static str, value: f64) -> Result<(), MotionFailure> {
    if value.is_finite() && value > 0.0 {
        return Ok(());
    }
    Err(MotionFailure::Setting { setting, value, rule: "it must be greater than 0" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Collision;

    const LB_PER_IN: f64 = 175.126_835;
    const LB_PER_IN2: f64 = 6_894.757;

    fn class_3() -> Stiffness {
        Stiffness { a_n_per_m: 317.0 * LB_PER_IN, b_n_per_m2: 56.0 * LB_PER_IN2 }
    }

    // All values here are computed from the stated formulas.

    #[test]
    fn uniform_depth_takes_width_times_work() {
        let profile = CrushProfile::new([0.4; 6], 1.5).unwrap();
        let stiffness = class_3();
        assert!((stiffness.a_n_per_m - 55_515.207).abs() < 1e-3);
        assert!((stiffness.b_n_per_m2 - 386_106.41).abs() < 0.02);
        assert!((stiffness.g_n() - 3_991.048).abs() < 1e-2);
        let energy = crush_energy_j(&profile, &stiffness, 0.0).unwrap();
        let (a, b) = (stiffness.a_n_per_m, stiffness.b_n_per_m2);
        assert!((energy - 1.5 * (a * 0.4 + 0.5 * b * 0.16 + stiffness.g_n())).abs() < 1e-6);
        assert!((energy - 85_628.46).abs() < 0.02, "{energy}");
    }

    #[test]
    fn slanted_profile_and_its_barrier_speed() {
        let profile = CrushProfile::new([0.0, 0.1, 0.2, 0.3, 0.4, 0.5], 1.5).unwrap();
        let energy = crush_energy_j(&profile, &class_3(), 0.0).unwrap();
        assert!((energy - 50_936.425).abs() < 0.01, "{energy}");
        assert!((barrier_speed_m_s(energy, 1400.0).unwrap() - 8.530_318).abs() < 1e-5);
        assert!((barrier_speed_m_s(energy, 1400.0).unwrap() * 3.6 - 30.7091).abs() < 1e-4);
        // The same by summing A C + B C²/2 + G over fine strips.
        let (stiffness, n) = (class_3(), 100_000_u32);
        let strip = |i: u32| {
            let depth = 0.5 * (f64::from(i) + 0.5) / f64::from(n);
            stiffness.a_n_per_m * depth + 0.5 * stiffness.b_n_per_m2 * depth * depth + stiffness.g_n()
        };
        let summed = (0..n).map(strip).sum::<f64>() * 1.5 / f64::from(n);
        assert!((energy - summed).abs() < 1e-3);
        let slant = crush_energy_j(&profile, &stiffness, 30.0_f64.to_radians()).unwrap();
        assert!((slant / energy - 4.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn barrier_tests_go_there_and_back() {
        let stiffness = Stiffness::from_barrier(2.2352, (15.6464 - 2.2352) / 0.5, 1400.0, 1.5).unwrap();
        assert!((stiffness.a_n_per_m - 55_956.533).abs() < 1e-3);
        assert!((stiffness.b_n_per_m2 - 671_478.399).abs() < 1e-3);
        assert!((stiffness.g_n() - 2_331.522).abs() < 1e-3);
        let profile = CrushProfile::new([0.5; 6], 1.5).unwrap();
        let energy = crush_energy_j(&profile, &stiffness, 0.0).unwrap();
        assert!((energy - 171_366.883).abs() < 1e-3);
        assert!((barrier_speed_m_s(energy, 1400.0).unwrap() - 15.6464).abs() < 1e-9);
    }

    #[test]
    fn speed_changes_of_a_pair() {
        let [first, second] =
            speed_changes_m_s(100e3, StruckMass::central(1400.0), StruckMass::central(9000.0)).unwrap();
        assert!((first - 11.118_740).abs() < 1e-6 && (second - 1.729_582).abs() < 1e-6);
        // A plastic central collision absorbs the energy that gives its own speed change back.
        let pair =
            Collision { striking_kg: 1400.0, struck_kg: 9000.0, striking_m_s: 27.7778, struck_m_s: 0.0 };
        let outcome = pair.outcome(0.0).unwrap();
        let [back, _] =
            speed_changes_m_s(outcome.absorbed_j, StruckMass::central(1400.0), StruckMass::central(9000.0))
                .unwrap();
        assert!((back + outcome.striking_change_m_s).abs() < 1e-9);
    }

    #[test]
    fn an_off_centre_impact_keeps_momentum_and_energy() {
        // Impulse J at a lever h on a body that does not turn before: the c.g. gains J/m, the point J/m (1 + h²/k²).
        let first = StruckMass { mass_kg: 1400.0, gyration_m: 1.3, lever_m: 0.6 };
        let second = StruckMass { mass_kg: 9000.0, gyration_m: 2.1, lever_m: 0.9 };
        let [dv1, dv2] = speed_changes_m_s(80e3, first, second).unwrap();
        assert!((1400.0 * dv1 - 9000.0 * dv2).abs() < 1e-9);
        let point = |body: StruckMass, change: f64| change * (1.0 + (body.lever_m / body.gyration_m).powi(2));
        let closing = point(first, dv1) + point(second, dv2);
        assert!((0.5 * 1400.0 * dv1 * closing - 80e3).abs() < 1e-6, "impulse over half the closing speed");
    }

    /// Old class coefficients, from memory (DOT-HS-805-732): A, B and G agree to rounding, G = A²/2B.
    #[test]
    fn class_coefficients_agree_among_themselves() {
        for (a, b, g) in [
            (302.0, 47.0, 970.3),
            (259.0, 43.0, 780.0),
            (317.0, 56.0, 897.2),
            (356.0, 34.0, 1863.8),
            (325.0, 37.0, 1427.4),
            (383.0, 126.0, 582.1),
        ] {
            assert!((Stiffness { a_n_per_m: a, b_n_per_m2: b }.g_n() - g).abs() < 0.06);
        }
    }

    /// NHTSA CISS case 1-10-2016-014-06, vehicle 1: 31712 J and 20 km/h, curb mass 1853 kg. The speed is rounded, so the mass
    /// that fits lies between 1956 and 2162 kg: curb mass and load.
    #[test]
    fn a_published_reconstruction_is_consistent() {
        let speed = |mass_kg: f64| barrier_speed_m_s(31_712.0, mass_kg).unwrap() * 3.6;
        assert!((speed(1853.0) - 21.06).abs() < 0.01);
        assert!((speed(2055.0) - 20.0).abs() < 0.01);
        assert!((speed(1956.0) - 20.5).abs() < 0.01 && (speed(2162.0) - 19.5).abs() < 0.01);
        assert!(crush_energy_j(&CrushProfile::new([0.1; 6], 1.0).unwrap(), &class_3(), 1.6).is_err());
    }
}
