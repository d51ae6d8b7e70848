//! Six depths across a damaged face: mean, area and centroid of the crush, free space taken off.
//!
//! The depths stand at equal distances along the damage width, the line between neighbours is straight. That is the
//! custom of crash reconstruction (common practice; the figures checked here are from published case files).

use crate::MotionFailure;

/// Depths in a profile.
pub const CRUSH_STATIONS: usize = 6;
/// Stretches between them.
const STRETCHES: f64 = 5.0;

/// A crush profile: C1 at the driver's left end of a front or rear, at the rear end of a side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrushProfile {
    depths_m: [f64; CRUSH_STATIONS],
    width_m: f64,
}

/// Standard uncertainties of a profile's inputs, m.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CrushDoubt {
    /// Of each depth on its own.
    pub depth_m: f64,
    /// Of the undeformed reference line, common to all six.
    pub reference_m: f64,
    /// Of the damage width.
    pub width_m: f64,
}

/// A figure and its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// Best estimate.
    pub value: f64,
    /// One standard uncertainty, same unit.
    pub u: f64,
}

impl CrushProfile {
    /// A profile of depths as they are, m; none may be negative.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] for a depth that is negative or no number, or a width that is not greater than 0.
    pub fn new(depths_m: [f64; CRUSH_STATIONS], width_m: f64) -> Result<Self, MotionFailure> {
        let fault = |setting, value, rule| Err(MotionFailure::Setting { setting, value, rule });
        if let Some(&depth) = depths_m.iter().find(|depth| !(depth.is_finite() && **depth >= 0.0)) {
            return fault("depths_m", depth, "a depth must be 0 or more");
        }
        if !(width_m.is_finite() && width_m > 0.0) {
            return fault("width_m", width_m, "the damage width must be greater than 0");
        }
        Ok(Self { depths_m, width_m })
    }

    /// A profile from depths measured to the undeformed reference line, less one or more rows of free space (the gap that
    /// was there before, such as a bumper's curve); what comes out negative is zero.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] for an entry that is no number, or a width that is not greater than 0.
    pub fn less_free_space(
        measured_m: [f64; CRUSH_STATIONS],
        free_m: &[[f64; CRUSH_STATIONS]],
        width_m: f64,
    ) -> Result<Self, MotionFailure> {
        let left = |i: usize| measured_m[i] - free_m.iter().map(|row| row[i]).sum::<f64>();
        let left: [f64; CRUSH_STATIONS] = std::array::from_fn(left);
        if let Some(&value) = left.iter().find(|depth| !depth.is_finite()) {
            return Err(MotionFailure::Setting { setting: "depths_m", value, rule: "it must be a number" });
        }
        Self::new(left.map(|depth| depth.max(0.0)), width_m)
    }

    /// The depths, m.
    #[must_use]
    pub fn depths_m(&self) -> [f64; CRUSH_STATIONS] {
        self.depths_m
    }

    /// Damage width, m.
    #[must_use]
    pub fn width_m(&self) -> f64 {
        self.width_m
    }

    /// Mean depth, the ends counting half: (C1/2 + C2 + C3 + C4 + C5 + C6/2) / 5, m.
    #[must_use]
    pub fn mean_m(&self) -> f64 {
        self.stretches().map(|(_, a, b)| 0.5 * (a + b)).sum::<f64>() / STRETCHES
    }

    /// Crushed area seen from above, m².
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        self.width_m * self.mean_m()
    }

    /// Depth of the area's centroid, m; `None` where nothing is crushed.
    #[must_use]
    pub fn centroid_depth_m(&self) -> Option<f64> {
        let step_m = self.width_m / STRETCHES;
        let moment: f64 = self.stretches().map(|(_, a, b)| step_m * (a * a + a * b + b * b) / 6.0).sum();
        self.over_area(moment)
    }

    /// Place of the area's centroid along the width, from C1, m; `None` where nothing is crushed.
    #[must_use]
    pub fn centroid_place_m(&self) -> Option<f64> {
        let step_m = self.width_m / STRETCHES;
        let moment =
            |(at, a, b): (f64, f64, f64)| step_m * step_m * (at * 0.5 * (a + b) + (a + 2.0 * b) / 6.0);
        self.over_area(self.stretches().map(moment).sum())
    }

    /// A figure of the profile with its standard uncertainty by first-order propagation (JCGM 100, 5.1.2); `None`
    /// where the figure is. A depth clipped at zero can only grow: its slope is that towards greater depths.
    pub fn figure(&self, doubt: &CrushDoubt, of: impl Fn(&Self) -> Option<f64>) -> Option<Figure> {
        let value = of(self)?;
        let step_m = 1e-6 * self.width_m;
        let slope = |moved: Self| of(&moved).map_or(0.0, |other| (other - value) / step_m);
        let deeper = |by: &dyn Fn(usize) -> bool| {
            let depth = |i: usize| self.depths_m[i] + if by(i) { step_m } else { 0.0 };
            Self { depths_m: std::array::from_fn(depth), ..*self }
        };
        let own: f64 = (0..CRUSH_STATIONS).map(|i| slope(deeper(&|at| at == i)).powi(2)).sum();
        let common = slope(deeper(&|_| true));
        let wider = slope(Self { width_m: self.width_m + step_m, ..*self });
        let variance = own * doubt.depth_m.powi(2)
            + (common * doubt.reference_m).powi(2)
            + (wider * doubt.width_m).powi(2);
        Some(Figure { value, u: variance.sqrt() })
    }

    /// Number of the stretch and the depths at its ends.
    fn stretches(&self) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        let pairs = self.depths_m.windows(2);
        (0_u8..).zip(pairs).map(|(at, pair)| (f64::from(at), pair[0], pair[1]))
    }

    fn over_area(&self, moment: f64) -> Option<f64> {
        let area_m2 = self.area_m2();
        (area_m2 > 0.0).then(|| moment / area_m2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cm(row: [f64; 6]) -> [f64; 6] {
        row.map(|depth| depth / 100.0)
    }

    /// Crush rows of NHTSA CISS cases 1-12-2017-052-03 and 1-10-2016-014-06 (vehicle 1 of each), as published: measured,
    /// free space, result; cm.
    #[test]
    fn published_profiles_add_up_as_printed() {
        let door = CrushProfile::less_free_space(
            cm([8.0, 38.0, 69.0, 57.0, 33.0, 3.0]),
            &[cm([0.0, 0.0, 0.0, 0.0, 3.0, 0.0])],
            2.97,
        );
        let bumper = CrushProfile::less_free_space(
            cm([13.0, 8.0, 4.0, 4.0, 7.0, 13.0]),
            &[cm([13.0, 3.0, 0.0, 0.0, 3.0, 13.0]), cm([3.0, 4.0, 5.0, 5.0, 4.0, 3.0])],
            1.24,
        );
        let front = CrushProfile::less_free_space(
            cm([15.0, 3.0, 4.0, 12.0, 23.0, 41.0]),
            &[cm([28.0, 10.0, 2.0, 2.0, 10.0, 28.0])],
            1.64,
        );
        for (profile, printed) in [
            (door, [8.0, 38.0, 69.0, 57.0, 30.0, 3.0]),
            (bumper, [0.0, 1.0, 0.0, 0.0, 0.0, 0.0]),
            (front, [0.0, 0.0, 2.0, 10.0, 13.0, 13.0]),
        ] {
            let depths = profile.unwrap().depths_m();
            assert!(depths.iter().zip(cm(printed)).all(|(a, b)| (a - b).abs() < 1e-12), "{depths:?}");
        }
        // Computed from the stated formulas for the published rows.
        let door = CrushProfile::new(cm([8.0, 38.0, 69.0, 57.0, 30.0, 3.0]), 2.97).unwrap();
        assert!((door.mean_m() - 0.399).abs() < 1e-12);
        assert!((door.depths_m().iter().sum::<f64>() / 6.0 - 0.341_667).abs() < 1e-6);
        assert!((door.area_m2() - 1.185_03).abs() < 1e-9);
        assert!((door.centroid_depth_m().unwrap() - 0.245_948).abs() < 1e-6);
        assert!((door.centroid_place_m().unwrap() - 1.415_28).abs() < 1e-5);
        assert!((1.485 - door.centroid_place_m().unwrap() - 0.0697).abs() < 1e-4);
        assert!((front_mean() - 0.063).abs() < 1e-12);
    }

    fn front_mean() -> f64 {
        CrushProfile::new(cm([0.0, 0.0, 2.0, 10.0, 13.0, 13.0]), 1.64).unwrap().mean_m()
    }

    #[test]
    fn uncertainty_of_the_mean_follows_its_weights() {
        let profile = CrushProfile::new([0.1, 0.2, 0.3, 0.3, 0.2, 0.1], 1.5).unwrap();
        let doubt = CrushDoubt { depth_m: 0.01, reference_m: 0.005, width_m: 0.02 };
        let mean = profile.figure(&doubt, |profile| Some(profile.mean_m())).unwrap();
        let expected = ((2.0 * 0.01 + 4.0 * 0.04) * 1e-4 + 25e-6_f64).sqrt();
        assert!((mean.u - expected).abs() < 1e-9, "{mean:?}");
        let area = profile.figure(&doubt, |profile| Some(profile.area_m2())).unwrap();
        assert!((area.u - (1.5 * expected).hypot(mean.value * 0.02)).abs() < 1e-8, "{area:?}");
    }

    #[test]
    fn what_is_no_profile_is_refused() {
        assert!(CrushProfile::new([0.1, -0.1, 0.0, 0.0, 0.0, 0.0], 1.5).is_err());
        assert!(CrushProfile::new([0.1; 6], 0.0).is_err());
        assert!(CrushProfile::less_free_space([f64::NAN; 6], &[], 1.5).is_err());
        let none = CrushProfile::new([0.0; 6], 1.5).unwrap();
        assert!(none.centroid_depth_m().is_none() && none.centroid_place_m().is_none());
    }
}
