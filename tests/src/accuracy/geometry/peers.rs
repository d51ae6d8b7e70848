//! Homographies, poses and points in space beside OpenCV's on the same marks, and whether their uncertainty is true.

use super::draws::{Draw, Tally, all, camera, lens, tally};
use crate::peer::ask;
use anyhow::Context;
use filmgauge_geometry::{
    CameraPose, Homography, HomographyOptions, PlaneControl, PoseFit, PoseOptions, PosedCamera, Sighting,
    SpaceControl, SpaceFix, TriangulateOptions, camera_pose, homography, triangulate,
};
use filmgauge_quantities::{PixelCov, PixelPoint, PlaneCov, PlanePoint, SpaceCov, SpacePoint};
use nalgebra::{Matrix3, Vector3};
use serde_json::{Value, json};

/// How well marks and survey are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubts {
    /// Greatest over least standard uncertainty of a mark; 1 for all alike. The least is 0.05 px.
    pub uneven: f64,
    /// Standard uncertainty of a surveyed place along each axis, m.
    pub survey_u_m: f64,
}

/// All marks alike at 0.05 px, the survey exact: what the peers take for granted.
pub const EVEN: Doubts = Doubts { uneven: 1.0, survey_u_m: 0.0 };
/// Marks from 0.05 to 0.4 px, some long and narrow, the survey good to 1 mm.
pub const UNEVEN: Doubts = Doubts { uneven: 8.0, survey_u_m: 0.001 };

const LEAST_U_PX: f64 = 0.05;

impl Doubts {
    fn mark_cov(&self, draw: &mut Draw) -> PixelCov {
        let mut u = || LEAST_U_PX * self.uneven.powf(draw.between(0.0, 1.0));
        let (long, short) = (u(), u());
        let angle = draw.between(0.0, if self.uneven > 1.0 { std::f64::consts::PI } else { 0.0 });
        let (sin, cos) = angle.sin_cos();
        let (a, b) = (long * long, short * short);
        PixelCov {
            xx: a * cos * cos + b * sin * sin,
            xy: (a - b) * sin * cos,
            yy: a * sin * sin + b * cos * cos,
        }
    }
}

/// One kind of problem: ours with coverage, and the root mean square errors of the peers.
#[derive(Debug, Clone, PartialEq)]
pub struct PeerRow {
    /// Errors as found here, m.
    pub ours: Tally,
    /// Root mean square error of each peer, m.
    pub peers: Vec<(&'static str, f64)>,
    /// Greatest difference between ours and each peer, m.
    pub apart: Vec<(&'static str, f64)>,
}

fn row(pairs: &[(f64, f64)], peers: &[(&'static str, Vec<f64>)]) -> PeerRow {
    let n = pairs.len() as f64;
    let rms = |errors: &[f64]| (errors.iter().map(|error| error * error).sum::<f64>() / n).sqrt();
    let apart = |errors: &[f64]| {
        pairs.iter().zip(errors).map(|(ours, theirs)| (ours.0 - theirs).abs()).fold(0.0, f64::max)
    };
    PeerRow {
        ours: tally(pairs),
        peers: peers.iter().map(|(name, errors)| (*name, rms(errors))).collect(),
        apart: peers.iter().map(|(name, errors)| (*name, apart(errors))).collect(),
    }
}

/// Places at which a homography is held against the truth.
const CHECKS: [[f64; 2]; 4] = [[-1.0, 0.4], [0.3, 1.0], [1.2, 0.2], [2.2, 1.3]];

/// Homographies of eight points at a slant: errors of x and z at four further places.
///
/// # Errors
/// When a draw or the peer fails.
pub fn homographies(n: u64, doubts: Doubts) -> anyhow::Result<PeerRow> {
    let eye = camera([7.0, -11.0, 2.5], [0.6, 0.0, 0.8]);
    // Through a lens without distortion: the peer knows none here.
    let eye = PosedCamera { lens: filmgauge_geometry::Lens::pinhole(2400.0, 959.5, 539.5), ..eye };
    let drawn = all(n, 1, |seed| {
        let mut draw = Draw::new(seed);
        let controls = plane_controls(&eye, doubts, &mut draw)?;
        Ok((homography(&controls, &HomographyOptions::default())?, controls))
    })?;
    let tasks: Vec<Value> = drawn
        .iter()
        .map(|(_, controls)| {
            let plane: Vec<[f64; 2]> = controls.iter().map(|c| [c.at.x_m, c.at.z_m]).collect();
            let seen: Vec<[f64; 2]> = controls.iter().map(|c| [c.seen.x, c.seen.y]).collect();
            json!({ "plane": plane, "seen": seen })
        })
        .collect();
    let answer = ask("space.py", &json!({ "homographies": tasks }))?;
    let matrices: Vec<[[f64; 3]; 3]> = serde_json::from_value(answer["homographies"].clone())?;
    let (mut pairs, mut theirs) = (Vec::new(), Vec::new());
    for ((ours, _), matrix) in drawn.iter().zip(&matrices) {
        add_homography(&eye, ours, matrix, &mut pairs, &mut theirs)?;
    }
    Ok(row(&pairs, &[("findHomography", theirs)]))
}

fn plane_controls(eye: &PosedCamera, doubts: Doubts, draw: &mut Draw) -> anyhow::Result<Vec<PlaneControl>> {
    let place = |i: usize, draw: &mut Draw| {
        let (column, row) = ((i % 4) as f64, (i / 4) as f64);
        [-1.6 + 1.4 * column + draw.between(-0.3, 0.3), 1.5 * row + draw.between(-0.2, 0.2)]
    };
    (0..8)
        .map(|i| {
            let [x, z] = place(i, draw);
            let seen = eye.image_of(SpacePoint::new(x, 0.0, z)).context("the point is in view")?;
            let (seen_cov, u) = (doubts.mark_cov(draw), doubts.survey_u_m);
            Ok(PlaneControl {
                id: format!("P{}", i + 1),
                at: PlanePoint::new(x + draw.normal(u), z + draw.normal(u)),
                at_cov: PlaneCov { xx: u * u, xz: 0.0, zz: u * u },
                seen: draw.around(seen, &seen_cov),
                seen_cov,
            })
        })
        .collect()
}

fn add_homography(
    eye: &PosedCamera,
    ours: &Homography,
    theirs: &[[f64; 3]; 3],
    pairs: &mut Vec<(f64, f64)>,
    others: &mut Vec<f64>,
) -> anyhow::Result<()> {
    let back = Matrix3::from_fn(|row, column| theirs[row][column]).try_inverse().context("invertible")?;
    for [x, z] in CHECKS {
        let seen = eye.image_of(SpacePoint::new(x, 0.0, z)).context("the place is in view")?;
        let (at, _, common) = ours.plane_of(seen, &PixelCov::default()).context("before the horizon")?;
        pairs.extend([(at.x_m - x, common.xx.sqrt()), (at.z_m - z, common.zz.sqrt())]);
        let other = back * Vector3::new(seen.x, seen.y, 1.0);
        others.extend([other.x / other.z - x, other.y / other.z - z]);
    }
    Ok(())
}

/// Poses of a camera from ten points: errors of the camera's place along x, y and z.
///
/// # Errors
/// When a draw or a peer fails.
pub fn poses(n: u64, is_planar: bool, doubts: Doubts) -> anyhow::Result<PeerRow> {
    let eye = camera([6.0, -10.0, 2.5], [0.6, 0.0, 0.8]);
    let drawn = all(n, 1, |seed| drawn_pose(&eye, is_planar, doubts, &mut Draw::new(seed)))?;
    let tasks: Vec<Value> = drawn
        .iter()
        .map(|(_, controls)| {
            let points: Vec<[f64; 3]> = controls.iter().map(|c| c.at.xyz()).collect();
            let seen: Vec<[f64; 2]> = controls.iter().map(|c| [c.seen.x, c.seen.y]).collect();
            json!({ "points": points, "seen": seen, "lens": lens_terms(), "planar": is_planar })
        })
        .collect();
    let answer = ask("space.py", &json!({ "poses": tasks }))?;
    let answers = answer["poses"].as_array().context("poses")?;
    let truth = eye.pose.centre.xyz();
    let pairs: Vec<(f64, f64)> = drawn
        .iter()
        .flat_map(|(fit, _)| {
            let at = fit.camera.pose.centre.xyz();
            [0, 1, 2].map(|k| (at[k] - truth[k], fit.camera.cov[3 + k][3 + k].sqrt()))
        })
        .collect();
    let solvers: &[&'static str] =
        if is_planar { &["iterative", "sqpnp", "ippe"] } else { &["iterative", "sqpnp"] };
    let mut peers = Vec::new();
    for &name in solvers {
        let mut errors = Vec::new();
        for answer in answers {
            let centre: [f64; 3] = serde_json::from_value(answer[name]["centre"].clone())?;
            errors.extend([0, 1, 2].map(|k| centre[k] - truth[k]));
        }
        peers.push((name, errors));
    }
    Ok(row(&pairs, &peers))
}

/// Turns of drawn poses about the camera's own axes, with their stated uncertainty, rad.
///
/// # Errors
/// When a draw fails.
pub fn turns(n: u64, is_planar: bool, doubts: Doubts) -> anyhow::Result<Tally> {
    let eye = camera([6.0, -10.0, 2.5], [0.6, 0.0, 0.8]);
    let drawn = all(n, 1, |seed| drawn_pose(&eye, is_planar, doubts, &mut Draw::new(seed)))?;
    let rotation = |pose: &CameraPose| Matrix3::from_fn(|row, column| pose.camera_from_space[row][column]);
    let pairs: Vec<(f64, f64)> = drawn
        .iter()
        .flat_map(|(fit, _)| {
            let small = rotation(&fit.camera.pose) * rotation(&eye.pose).transpose();
            let turns = [small.m32 - small.m23, small.m13 - small.m31, small.m21 - small.m12];
            [0, 1, 2].map(|k| (turns[k] / 2.0, fit.camera.cov[k][k].sqrt()))
        })
        .collect();
    Ok(tally(&pairs))
}

fn drawn_pose(
    eye: &PosedCamera,
    is_planar: bool,
    doubts: Doubts,
    draw: &mut Draw,
) -> anyhow::Result<(PoseFit, Vec<SpaceControl>)> {
    let controls = (0..10)
        .map(|i| {
            let (column, row) = ((i % 5) as f64, (i / 5) as f64);
            let depth_m = if is_planar { 0.0 } else { draw.between(-0.8, 0.8) };
            let x = -1.6 + column + draw.between(-0.3, 0.3);
            let at = [x, depth_m, 1.5 * row + draw.between(-0.2, 0.2)];
            space_control(i, at, eye, doubts, draw)
        })
        .collect::<anyhow::Result<Vec<_>>>()?;
    // The peers take a plane for exactly flat, so the survey's error stays in it; so does the covariance.
    let controls = if is_planar { controls.into_iter().map(flattened).collect() } else { controls };
    Ok((camera_pose(&controls, &lens(), &PoseOptions::default())?, controls))
}

fn flattened(mut control: SpaceControl) -> SpaceControl {
    control.at.y_m = 0.0;
    control.at_cov.0[1][1] = 0.0;
    control
}

fn space_control(
    index: usize,
    [x, y, z]: [f64; 3],
    eye: &PosedCamera,
    doubts: Doubts,
    draw: &mut Draw,
) -> anyhow::Result<SpaceControl> {
    let seen = eye.image_of(SpacePoint::new(x, y, z)).context("the point is in view")?;
    let (seen_cov, u) = (doubts.mark_cov(draw), doubts.survey_u_m);
    Ok(SpaceControl {
        id: format!("P{}", index + 1),
        at: SpacePoint::new(x + draw.normal(u), y + draw.normal(u), z + draw.normal(u)),
        at_cov: SpaceCov::round(u),
        seen: draw.around(seen, &seen_cov),
        seen_cov,
    })
}

fn lens_terms() -> [f64; 9] {
    let l = lens();
    [l.fx_px, l.fy_px, l.cx_px, l.cy_px, l.k1, l.k2, l.k3, l.p1, l.p2]
}

/// Two cameras at 90° that see the middle of the path.
#[must_use]
pub fn pair() -> [PosedCamera; 2] {
    [camera([0.5, -12.0, 1.5], [0.5, 0.0, 0.8]), camera([1.0, -4.0, 9.0], [0.5, 0.0, 0.8])]
}

/// Points in space from two cameras, whose poses are found from ten surveyed points where `finds_poses`: errors along x, y, z.
///
/// # Errors
/// When a draw or the peer fails.
pub fn points(n: u64, doubts: Doubts, finds_poses: bool) -> anyhow::Result<PeerRow> {
    let truth = pair();
    let drawn = all(n, 1, |seed| drawn_point(&truth, doubts, finds_poses, &mut Draw::new(seed)))?;
    let views = |drawn: &DrawnPoint| -> Vec<Value> {
        let view = |(camera, seen): (&PosedCamera, &PixelPoint)| {
            json!({
                "rotation": camera.pose.camera_from_space, "centre": camera.pose.centre.xyz(),
                "seen": [seen.x, seen.y], "lens": lens_terms(),
            })
        };
        drawn.cameras.iter().zip(&drawn.seen).map(view).collect()
    };
    let tasks: Vec<Vec<Value>> = drawn.iter().map(views).collect();
    let answer = ask("space.py", &json!({ "points": tasks }))?;
    let theirs: Vec<[f64; 3]> = serde_json::from_value(answer["points"].clone())?;
    let mut pairs = Vec::new();
    let mut errors = Vec::new();
    for (drawn, theirs) in drawn.iter().zip(theirs) {
        let at = drawn.fix.at.xyz();
        for k in 0..3 {
            let variance = drawn.fix.cov.0[k][k] + drawn.fix.pose_cov.0[k][k];
            pairs.push((at[k] - drawn.truth[k], variance.sqrt()));
            errors.push(theirs[k] - drawn.truth[k]);
        }
    }
    Ok(row(&pairs, &[("triangulatePoints", errors)]))
}

struct DrawnPoint {
    truth: [f64; 3],
    cameras: Vec<PosedCamera>,
    seen: Vec<PixelPoint>,
    fix: SpaceFix,
}

fn drawn_point(
    truth: &[PosedCamera; 2],
    doubts: Doubts,
    finds_poses: bool,
    draw: &mut Draw,
) -> anyhow::Result<DrawnPoint> {
    let at = [draw.between(-0.8, 1.6), draw.between(-0.6, 0.6), draw.between(0.2, 1.4)];
    let place = SpacePoint::new(at[0], at[1], at[2]);
    let (mut cameras, mut seen, mut covs) = (Vec::new(), Vec::new(), Vec::new());
    for eye in truth {
        cameras.push(if finds_poses { drawn_pose(eye, false, doubts, draw)?.0.camera } else { *eye });
        let cov = doubts.mark_cov(draw);
        seen.push(draw.around(eye.image_of(place).context("the point is in view")?, &cov));
        covs.push(cov);
    }
    let sightings: Vec<Sighting<'_>> =
        (0..2).map(|k| Sighting { camera: &cameras[k], seen: seen[k], cov: covs[k] }).collect();
    let fix = triangulate(&sightings, &TriangulateOptions::default())?;
    Ok(DrawnPoint { truth: at, cameras, seen, fix })
}
