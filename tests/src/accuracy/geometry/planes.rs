//! Travel in planes that are nearer, inclined or seen at a slant: as read by the board's scale alone, and as measured.

use super::draws::{Draw, Tally, all, camera, lens, tally};
use anyhow::Context;
use filmgauge_geometry::{
    Board, Calibration, HomographyOptions, LensFile, PlaneControl, PlaneMap, PlaneOf, PlanePoints,
    PoseOptions, PosePoints, PosedCamera, Reference, SpaceControl,
};
use filmgauge_quantities::{
    Angle, BodyId, Length, PixelCov, PixelPoint, PlaneCov, PlanePoint, SpaceCov, SpacePoint, Uncertain,
    ViewPlane,
};

/// Standard uncertainty of a mark along each axis, px.
pub const MARK_U_PX: f64 = 0.1;
/// Of the ends of the board, px.
pub const BOARD_U_PX: f64 = 0.2;
/// Of lengths and surveyed places, m.
pub const SURVEY_U_M: f64 = 0.001;
/// Of the camera's distance, m.
pub const DISTANCE_U_M: f64 = 0.05;
/// Of a plane offset, m.
pub const OFFSET_U_M: f64 = 0.02;
/// Of an inclination, degrees.
pub const INCLINATION_U_DEG: f64 = 0.3;

/// What the plane rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rests {
    /// A board that the camera sees at right angles.
    Board,
    /// Eight points of the plane.
    Points,
    /// Eight points in space.
    Pose,
}

/// One plane before a camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneCase {
    /// What the plane of reference rests on.
    pub rests: Rests,
    /// Angle between the camera's axis and the plane's normal, degrees.
    pub slant_deg: f64,
    /// Distance of the camera from the plane of reference, m.
    pub distance_m: f64,
    /// The body's plane: offset, m, and inclination, degrees.
    pub offset_m: f64,
    /// Inclination, degrees.
    pub inclination_deg: f64,
}

/// A case's errors of a travel of 3 m, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneRow {
    /// Mean error when the marks are scaled by a board, without offset, inclination and slant.
    pub before: f64,
    /// Errors as measured, with the stated uncertainty.
    pub after: Tally,
}

/// Ends of the travel along the body's own plane, m.
const ENDS_M: [f64; 2] = [-1.5, 1.5];

struct Drawn {
    raw_m: f64,
    error_m: f64,
    u_m: f64,
}

/// Draws a case `n` times.
///
/// # Errors
/// When a draw cannot be measured, which is a failure of the program.
pub fn plane_row(case: &PlaneCase, n: u64) -> anyhow::Result<PlaneRow> {
    let drawn = all(n, 1, |seed| one(case, seed).with_context(|| format!("{case:?}, seed {seed}")))?;
    let before = drawn.iter().map(|drawn| drawn.raw_m).sum::<f64>() / drawn.len() as f64;
    let pairs: Vec<(f64, f64)> = drawn.iter().map(|drawn| (drawn.error_m, drawn.u_m)).collect();
    Ok(PlaneRow { before, after: tally(&pairs) })
}

fn one(case: &PlaneCase, seed: u64) -> anyhow::Result<Drawn> {
    let mut draw = Draw::new(seed);
    let aside_m = case.distance_m * case.slant_deg.to_radians().tan();
    // On the right of the path x runs to the right in the picture; towards the camera is then -y.
    let eye = camera([aside_m, -case.distance_m, 1.0], [0.0, 0.0, 1.0]);
    let plane =
        PlaneOf { offset: Length::from_m(case.offset_m), inclination: Angle::from_deg(case.inclination_deg) };
    let cov = PixelCov::round(MARK_U_PX);
    let mut marks = [PixelPoint::default(); 2];
    for (mark, along_m) in marks.iter_mut().zip(ENDS_M) {
        let (sin, cos) = plane.inclination.as_rad().sin_cos();
        let at = SpacePoint::new(along_m * cos, -(case.offset_m + along_m * sin), 0.6);
        *mark = draw.around(eye.image_of(at).context("the travel is in view")?, &cov);
    }
    let body = BodyId::new("body")?;
    let state = calibration(case, &eye, &body, &mut draw)?;
    let travel = |state: &Calibration| -> anyhow::Result<(f64, f64)> {
        let (map, plane) = (PlaneMap::new(state)?, state.plane_of(&body));
        let at = |mark| map.plane_from_image(mark, &cov, plane);
        let (from, to) = (at(marks[0])?, at(marks[1])?);
        Ok(((to.0 - from.0).x_m, from.1.xx + to.1.xx))
    };
    let (found_m, mut square) = travel(&state)?;
    for source in state.doubts() {
        square += (travel(&state.perturbed(&source))?.0 - found_m).powi(2);
    }
    let true_m = ENDS_M[1] - ENDS_M[0];
    Ok(Drawn { raw_m: raw_m(&eye, &marks)? - true_m, error_m: found_m - true_m, u_m: square.sqrt() })
}

/// The travel by a board of 2 m about the middle of the plane of reference, as if all lay in one plane at right angles.
fn raw_m(eye: &PosedCamera, marks: &[PixelPoint; 2]) -> anyhow::Result<f64> {
    let ideal = |at: PixelPoint| lens().undistort(at);
    let end = |x_m| ideal(eye.image_of(SpacePoint::new(x_m, 0.0, 0.6)).unwrap_or_default());
    let scale = 2.0 / (end(1.0)?.x - end(-1.0)?.x);
    Ok(scale * (ideal(marks[1])?.x - ideal(marks[0])?.x))
}

fn calibration(
    case: &PlaneCase,
    eye: &PosedCamera,
    body: &BodyId,
    draw: &mut Draw,
) -> anyhow::Result<Calibration> {
    let reference = match case.rests {
        Rests::Board => board(case, eye, draw)?,
        Rests::Points => points(eye, draw)?,
        Rests::Pose => pose(eye, draw)?,
    };
    // A plane offset of 0 is a matter of definition, any other one of survey.
    let offset_u_m = if case.offset_m == 0.0 { 0.0 } else { OFFSET_U_M };
    let inclination_u_deg = if case.inclination_deg == 0.0 { 0.0 } else { INCLINATION_U_DEG };
    let offset =
        Uncertain::new(Length::from_m(case.offset_m + draw.normal(offset_u_m)), Length::from_m(offset_u_m));
    let inclination = Uncertain::new(
        Angle::from_deg(case.inclination_deg + draw.normal(inclination_u_deg)),
        Angle::from_deg(inclination_u_deg),
    );
    Ok(Calibration {
        view: ViewPlane::Side,
        reference,
        lengths: Vec::new(),
        lens: Some(LensFile::of(lens(), [0.0; 9], None)),
        image_centre: PixelPoint::new(959.5, 539.5),
        offsets: vec![(body.clone(), offset)],
        inclinations: vec![(body.clone(), inclination)],
    })
}

fn board(case: &PlaneCase, eye: &PosedCamera, draw: &mut Draw) -> anyhow::Result<Reference> {
    let cov = PixelCov::round(BOARD_U_PX);
    // Its `from` at x = 0 makes that the origin, about which an inclined path turns.
    let mut end = |x_m| -> anyhow::Result<PixelPoint> {
        Ok(draw.around(eye.image_of(SpacePoint::new(x_m, 0.0, 0.3)).context("the board is in view")?, &cov))
    };
    let (from, to) = (end(0.0)?, end(2.0)?);
    Ok(Reference::Board(Board {
        from,
        to,
        length: Uncertain::new(Length::from_m(2.0 + draw.normal(SURVEY_U_M)), Length::from_m(SURVEY_U_M)),
        reading_u_px: BOARD_U_PX,
        distance: Some(Uncertain::new(
            Length::from_m(case.distance_m + draw.normal(DISTANCE_U_M)),
            Length::from_m(DISTANCE_U_M),
        )),
    }))
}

const PLACES: [[f64; 3]; 8] = [
    [-1.8, 0.5, 0.1],
    [-0.6, -0.4, 0.0],
    [0.7, 0.6, 0.2],
    [1.9, -0.3, 0.1],
    [-1.7, -0.5, 1.7],
    [-0.5, 0.4, 1.9],
    [0.6, -0.6, 1.8],
    [1.8, 0.3, 1.6],
];

fn points(eye: &PosedCamera, draw: &mut Draw) -> anyhow::Result<Reference> {
    let cov = PixelCov::round(MARK_U_PX);
    let of = |(i, &[x, _, z]): (usize, &[f64; 3])| {
        let seen = eye.image_of(SpacePoint::new(x, 0.0, z)).context("the point is in view")?;
        Ok(PlaneControl {
            id: format!("P{}", i + 1),
            at: PlanePoint::new(x + draw.normal(SURVEY_U_M), z + draw.normal(SURVEY_U_M)),
            at_cov: PlaneCov { xx: SURVEY_U_M.powi(2), xz: 0.0, zz: SURVEY_U_M.powi(2) },
            seen: draw.around(seen, &cov),
            seen_cov: cov,
        })
    };
    let controls = PLACES.iter().enumerate().map(of).collect::<anyhow::Result<Vec<_>>>()?;
    Ok(Reference::Points(PlanePoints { controls, distance: None, options: HomographyOptions::default() }))
}

fn pose(eye: &PosedCamera, draw: &mut Draw) -> anyhow::Result<Reference> {
    let cov = PixelCov::round(MARK_U_PX);
    let of = |(i, &[x, y, z]): (usize, &[f64; 3])| {
        let seen = eye.image_of(SpacePoint::new(x, y, z)).context("the point is in view")?;
        let mut survey = || draw.normal(SURVEY_U_M);
        let at = SpacePoint::new(x + survey(), y + survey(), z + survey());
        let (id, at_cov) = (format!("P{}", i + 1), SpaceCov::round(SURVEY_U_M));
        Ok(SpaceControl { id, at, at_cov, seen: draw.around(seen, &cov), seen_cov: cov })
    };
    let controls = PLACES.iter().enumerate().map(of).collect::<anyhow::Result<Vec<_>>>()?;
    let options = PoseOptions::default();
    Ok(Reference::Pose(PosePoints { controls, plane_at: Length::from_m(0.0), options }))
}

/// The cases of the page.
pub const CASES: [PlaneCase; 12] = {
    const fn case(
        rests: Rests,
        slant_deg: f64,
        distance_m: f64,
        offset_m: f64,
        inclination_deg: f64,
    ) -> PlaneCase {
        PlaneCase { rests, slant_deg, distance_m, offset_m, inclination_deg }
    }
    [
        case(Rests::Board, 0.0, 15.0, 0.0, 0.0),
        case(Rests::Board, 0.0, 15.0, 0.9, 0.0),
        case(Rests::Board, 0.0, 15.0, -0.9, 0.0),
        case(Rests::Board, 0.0, 8.0, 0.3, 0.0),
        case(Rests::Board, 0.0, 15.0, 0.0, 5.0),
        case(Rests::Board, 0.0, 15.0, 0.9, 10.0),
        case(Rests::Points, 20.0, 15.0, 0.0, 0.0),
        case(Rests::Points, 20.0, 15.0, 0.9, 0.0),
        case(Rests::Points, 20.0, 15.0, 0.9, 5.0),
        case(Rests::Pose, 20.0, 15.0, 0.0, 0.0),
        case(Rests::Pose, 20.0, 15.0, 0.9, 0.0),
        case(Rests::Pose, 20.0, 15.0, 0.9, 5.0),
    ]
};
