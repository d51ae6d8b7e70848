//! Two cameras whose clocks differ: a path in space before and after the offset is found with it.

use super::draws::{Draw, Tally, all, tally};
use super::peers::pair;
use anyhow::Context;
use filmgauge_geometry::{
    Bundle, BundleOptions, CameraMark, PosedCamera, Sighting, SpaceTrack, TriangulateOptions, bundle,
    triangulate,
};
use filmgauge_quantities::{PixelCov, SpacePoint};

/// What the second camera's clock reads more than the first's, s.
pub const OFFSET_S: f64 = 0.0008;
/// Speed before braking, m/s.
pub const SPEED_M_S: f64 = 15.0;
/// Standard uncertainty of a mark along each axis, px.
pub const MARK_U_PX: f64 = 0.1;
const N_FRAMES: u32 = 80;
const N_TARGETS: usize = 3;

/// What many draws say of the offset and of the paths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffsetRow {
    /// Errors of the offset, s.
    pub offset: Tally,
    /// Root mean square error of a place along one axis when both clocks are taken as one, m.
    pub before_m: f64,
    /// Errors of places along each axis with the offset found, m.
    pub after: Tally,
}

/// Draws `n` films of each camera. With `poses_u`, the poses are off by a drawn error of these standard uncertainties: turns,
/// rad, and places, m.
///
/// # Errors
/// When a draw cannot be solved.
pub fn offset_row(n: u64, poses_u: Option<[f64; 2]>) -> anyhow::Result<OffsetRow> {
    let drawn = all(n, 1, |seed| one(poses_u, seed).with_context(|| format!("seed {seed}")))?;
    let offsets: Vec<(f64, f64)> = drawn.iter().map(|drawn| drawn.offset).collect();
    let before: Vec<(f64, f64)> =
        drawn.iter().flat_map(|drawn| drawn.before.iter().map(|e| (*e, 0.0))).collect();
    let after: Vec<(f64, f64)> = drawn.iter().flat_map(|drawn| drawn.after.clone()).collect();
    Ok(OffsetRow { offset: tally(&offsets), before_m: tally(&before).rms, after: tally(&after) })
}

struct Drawn {
    offset: (f64, f64),
    before: Vec<f64>,
    after: Vec<(f64, f64)>,
}

/// A run-up at 15 m/s, then braking from 25 to 65 ms by a half-sine of 300 m/s², with some lift.
fn path(target: usize, time_s: f64) -> SpacePoint {
    let (start_s, length_s, most) = (0.025, 0.04, 300.0);
    let pi = std::f64::consts::PI;
    let braked = (time_s - start_s).clamp(0.0, length_s);
    let w = pi / length_s;
    // Twice integrated: a/w (t - sin(wt)/w), then on at the speed that is left.
    let lost = most / w * (braked - (w * braked).sin() / w);
    let after = (time_s - start_s - length_s).max(0.0) * (2.0 * most / w);
    let x = -0.6 + SPEED_M_S * time_s - lost - after;
    let lift = 1.5 * braked * braked;
    let i = target as f64;
    SpacePoint::new(x + 0.5 * i, 0.3 - 0.3 * i, 0.5 + 0.25 * i + lift)
}

fn one(poses_u: Option<[f64; 2]>, seed: u64) -> anyhow::Result<Drawn> {
    let mut draw = Draw::new(seed);
    let truth = pair();
    let cameras: Vec<PosedCamera> = truth.iter().map(|camera| doubted(camera, poses_u, &mut draw)).collect();
    let cov = PixelCov::round(MARK_U_PX);
    let mut tracks = Vec::new();
    for target in 0..N_TARGETS {
        let mut marks = Vec::new();
        for (camera, eye) in truth.iter().enumerate() {
            for frame in 0..N_FRAMES {
                let time_s = f64::from(frame) * 1e-3;
                let shown = path(target, time_s - if camera == 1 { OFFSET_S } else { 0.0 });
                let seen = draw.around(eye.image_of(shown).context("the target is in view")?, &cov);
                marks.push(CameraMark { camera, time_s, seen, cov });
            }
        }
        tracks.push(SpaceTrack { id: format!("T{target}"), marks });
    }
    let found = bundle(&cameras, &tracks, &BundleOptions::default())?;
    let offset = found.offsets[1];
    Ok(Drawn {
        offset: (offset.value.as_s() - OFFSET_S, offset.u.as_s()),
        before: before(&cameras, &tracks)?,
        after: after(&found)?,
    })
}

fn doubted(camera: &PosedCamera, poses_u: Option<[f64; 2]>, draw: &mut Draw) -> PosedCamera {
    let Some([turn, place]) = poses_u else { return *camera };
    let u: [f64; 6] = std::array::from_fn(|k| if k < 3 { turn } else { place });
    let by = u.map(|u| draw.normal(u));
    let mut cov = [[0.0; 6]; 6];
    for k in 0..6 {
        cov[k][k] = u[k] * u[k];
    }
    PosedCamera { pose: camera.pose.moved(&by), cov, ..*camera }
}

/// Errors of the places that marks of the same clock reading give, on the first camera's clock.
fn before(cameras: &[PosedCamera], tracks: &[SpaceTrack]) -> anyhow::Result<Vec<f64>> {
    let mut errors = Vec::new();
    for (target, track) in tracks.iter().enumerate() {
        let (first, second) = track.marks.split_at(N_FRAMES as usize);
        for (a, b) in first.iter().zip(second) {
            let of = |mark: &CameraMark| Sighting {
                camera: &cameras[mark.camera],
                seen: mark.seen,
                cov: mark.cov,
            };
            let at = triangulate(&[of(a), of(b)], &TriangulateOptions::default())?.at.xyz();
            let truth = path(target, a.time_s).xyz();
            errors.extend([0, 1, 2].map(|k| at[k] - truth[k]));
        }
    }
    Ok(errors)
}

fn after(found: &Bundle) -> anyhow::Result<Vec<(f64, f64)>> {
    let mut pairs = Vec::new();
    for target in 0..N_TARGETS {
        for time_s in [0.010, 0.030, 0.045, 0.060] {
            let at = found.at(target, time_s).context("seen at that instant")?;
            let (place, truth, u) = (at.at.xyz(), path(target, time_s).xyz(), at.cov.u_m());
            pairs.extend([0, 1, 2].map(|k| (place[k] - truth[k], u[k])));
        }
    }
    Ok(pairs)
}
