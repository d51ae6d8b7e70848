//! Closed forms of parallax, path angle and blur, for forecasts and for judging a camera plan.

/// Apparent over true size of what lies `offset_m` nearer the camera than a board at `distance_m`: D / (D - d).
/// `None` where the plane reaches the camera.
#[must_use]
pub fn parallax_ratio(offset_m: f64, distance_m: f64) -> Option<f64> {
    let left_m = distance_m - offset_m;
    (distance_m > 0.0 && left_m > 0.0).then(|| distance_m / left_m)
}

/// Standard uncertainty of the correction 1 - d/D: sqrt((u(d)/D)² + (d u(D)/D²)²), by JCGM 100, 5.1.2.
#[must_use]
pub fn parallax_correction_u(offset_m: f64, offset_u_m: f64, distance_m: f64, distance_u_m: f64) -> f64 {
    (offset_u_m / distance_m).hypot(offset_m * distance_u_m / (distance_m * distance_m))
}

/// Apparent over true travel along a path inclined by `inclination_rad` to the board's plane, at `x_m` along the path
/// from the axis of a camera at `distance_m`: D cos β / (D - x sin β). `None` where the path reaches the camera.
#[must_use]
pub fn inclined_path_factor(inclination_rad: f64, x_m: f64, distance_m: f64) -> Option<f64> {
    let (sin, cos) = inclination_rad.sin_cos();
    let left_m = distance_m - x_m * sin;
    (left_m > 0.0).then(|| distance_m * cos / left_m)
}

/// False shift of a target that stands `h_m` from the camera's axis and moves `dz_m` towards the camera, in a plane
/// `offset_m` nearer than a board at `distance_m`: h dz / (D - d). `None` where the plane reaches the camera.
#[must_use]
pub fn false_shift_m(h_m: f64, dz_m: f64, offset_m: f64, distance_m: f64) -> Option<f64> {
    let left_m = distance_m - offset_m;
    (left_m > 0.0).then(|| h_m * dz_m / left_m)
}

/// Length of motion blur, px: speed times exposure over metres per pixel.
#[must_use]
pub fn blur_px(speed_m_s: f64, exposure_s: f64, metres_per_px: f64) -> f64 {
    speed_m_s * exposure_s / metres_per_px
}

/// Travel from frame to frame, px: speed over film speed and metres per pixel.
#[must_use]
pub fn step_px(speed_m_s: f64, frames_per_s: f64, metres_per_px: f64) -> f64 {
    speed_m_s / (frames_per_s * metres_per_px)
}

#[cfg(test)]
mod tests {
    use super::*;

    // All values here are computed from the stated formulas.

    #[test]
    fn parallax_cases() {
        for (d, distance, ratio) in [
            (0.9, 15.0, 1.063_830),
            (-0.9, 15.0, 0.943_396),
            (0.3, 8.0, 1.038_961),
            (1.0, 30.0, 1.034_483),
            (0.1, 10.0, 1.010_101),
            (0.05, 20.0, 1.002_506),
        ] {
            assert!((parallax_ratio(d, distance).unwrap() - ratio).abs() < 5e-7);
        }
        assert!(parallax_ratio(15.0, 15.0).is_none());
        assert!((parallax_correction_u(0.9, 0.02, 15.0, 0.05) - 0.001_348_25).abs() < 5e-9);
    }

    #[test]
    fn inclined_path_cases() {
        for (beta_deg, x_m, factor) in
            [(5.0, 2.0, 1.007_907), (5.0, -2.0, 0.984_751), (10.0, 2.0, 1.008_150), (10.0, -2.0, 0.962_522)]
        {
            let found = inclined_path_factor(f64::to_radians(beta_deg), x_m, 15.0).unwrap();
            assert!((found - factor).abs() < 5e-7, "{beta_deg} {x_m}: {found}");
        }
        for (beta_deg, loss) in [(2.0, 0.0609), (5.0, 0.3805), (10.0, 1.5192)] {
            let found = 100.0 * (1.0 - inclined_path_factor(f64::to_radians(beta_deg), 0.0, 15.0).unwrap());
            assert!((found - loss).abs() < 5e-5);
        }
    }

    #[test]
    fn blur_step_and_false_shift() {
        assert!((blur_px(27.778, 0.2e-3, 0.0025) - 2.22).abs() < 5e-3);
        assert!((step_px(27.778, 1000.0, 0.0025) - 11.11).abs() < 5e-3);
        assert!((false_shift_m(1.5, 0.02, 1.0, 16.0).unwrap() - 0.002).abs() < 1e-15);
    }
}
