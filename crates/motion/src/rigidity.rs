//! Whether a body stayed rigid: residuals of its marks against the poses, by frame and by target.

use crate::{BodyTracks, Layout, Pose};
use filmgauge_quantities::TargetId;

/// How well the marks of a body fit its layout. A scale well above 1 or many frames over the limit mean deformation,
/// a wrong mark or understated noise.
#[derive(Debug, Clone, PartialEq)]
pub struct RigidityReport {
    /// Frames with more marks than a pose needs.
    pub n_frames: usize,
    /// Share of those frames whose residuals exceed the 99 % point of chi-square; `None` without such frames.
    pub share_over_99: Option<f64>,
    /// Root of the mean residual sum of squares over its degrees of freedom; `None` without such frames.
    pub noise_scale: Option<f64>,
    /// Root mean square residual of each target over both axes, m; `None` for a target never used.
    pub rms_m: Vec<Option<f64>>,
    /// The target with the greatest root mean square residual.
    pub worst: Option<TargetId>,
}

/// Judges poses against the marks they came from; `frames` outside the tracks are passed over.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts of frames")]
pub fn rigidity(
    tracks: &BodyTracks,
    layout: &Layout,
    poses: &[Option<Pose>],
    frames: std::ops::Range<usize>,
) -> RigidityReport {
    let mut sums = vec![(0.0, 0_usize); tracks.targets.len()];
    let (mut chi2, mut dof, mut over, mut n_frames) = (0.0, 0_u32, 0_usize, 0_usize);
    for frame in frames {
        let Some(Some(pose)) = poses.get(frame) else { continue };
        if pose.dof == 0 {
            continue;
        }
        n_frames += 1;
        chi2 += pose.chi2;
        dof += pose.dof;
        over += usize::from(pose.chi2 > chi2_limit_99(pose.dof));
        for (i, mark) in tracks.marks_in(frame) {
            if let Some(Some(place)) = layout.places.get(i) {
                let residual = mark.point - pose.plane_from_body(*place);
                sums[i].0 += residual.x_m.powi(2) + residual.z_m.powi(2);
                sums[i].1 += 2;
            }
        }
    }
    let rms_m: Vec<Option<f64>> =
        sums.iter().map(|&(sum, n)| (n > 0).then(|| (sum / n as f64).sqrt())).collect();
    let ranked = rms_m.iter().enumerate().filter_map(|(i, rms)| rms.map(|rms| (i, rms)));
    let worst = ranked.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| tracks.targets[i].id.clone());
    RigidityReport {
        n_frames,
        share_over_99: (n_frames > 0).then(|| over as f64 / n_frames as f64),
        noise_scale: (dof > 0).then(|| (chi2 / f64::from(dof)).sqrt()),
        rms_m,
        worst,
    }
}

/// The 99 % point of chi-square by the cube-root approximation of Wilson and Hilferty (1931, PNAS 17:684); within
/// 1 % from one degree of freedom on.
fn chi2_limit_99(dof: u32) -> f64 {
    let dof = f64::from(dof);
    let ninth = 2.0 / (9.0 * dof);
    dof * (1.0 - ninth + 2.326_347_874 * ninth.sqrt()).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chi_square_limits() {
        // Tabulated 99 % points: NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4.
        for (dof, limit) in [(1, 6.635), (3, 11.345), (5, 15.086), (9, 21.666)] {
            assert!((chi2_limit_99(dof) / limit - 1.0).abs() < 0.01);
        }
    }
}
