//! Films whose pictures move, by a camera that shakes or by film that weaves: a mark before and after steadying.

use super::draws::{Draw, Tally, all, lens, tally};
use anyhow::Context;
use filmgauge_geometry::{
    FixedMark, Lens, SteadyModel, SteadyOptions, ideal_mark, steady_film, steady_from_stored,
};
use filmgauge_quantities::{PixelCov, PixelPoint};
use nalgebra::{Matrix3, Rotation3, Vector3};
use std::f64::consts::TAU;

/// Frames of a film.
pub const N_FRAMES: usize = 40;
/// Standard uncertainty of every mark along each axis, px.
pub const MARK_U_PX: f64 = 0.05;
/// Greatest shift of the picture's middle by a shaking camera along each axis, px, and its greatest roll, degrees.
pub const SHAKE: (f64, f64) = (15.0, 0.3);
/// Standard deviation of the shift and turn of film in its gate, px and rad.
pub const WEAVE: (f64, f64) = (0.4, 2e-4);

/// What moves the pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// The camera shakes about its pupil.
    Camera,
    /// The film weaves in its gate.
    Film,
}

/// One kind of film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShakeCase {
    /// What the page calls it.
    pub name: &'static str,
    /// What moves.
    pub moves: Moves,
    /// Where what holds still is seen in the first frame, stored px.
    pub fixed: &'static [[f64; 2]],
    /// One of them is pushed by this much in the second half of the film, px.
    pub pushed_px: f64,
}

/// Errors of a mark along one axis, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShakeRow {
    /// Root mean square error as read.
    pub before: f64,
    /// Steadied.
    pub after: Tally,
    /// The model chosen in most films, and its share.
    pub model: (&'static str, f64),
    /// Share of frames without a step.
    pub unsteadied: f64,
}

const WIDE: [[f64; 2]; 6] =
    [[90.0, 980.0], [1830.0, 1000.0], [120.0, 90.0], [1800.0, 70.0], [960.0, 1020.0], [700.0, 60.0]];
const WIDE_FOUR: [[f64; 2]; 4] = [WIDE[0], WIDE[1], WIDE[2], WIDE[3]];
const LOW: [[f64; 2]; 3] = [[200.0, 960.0], [900.0, 1010.0], [1700.0, 980.0]];

/// The cases of the page.
pub const CASES: [ShakeCase; 6] = [
    ShakeCase { name: "shake, four wide targets", moves: Moves::Camera, fixed: &WIDE_FOUR, pushed_px: 0.0 },
    ShakeCase { name: "shake, six wide targets", moves: Moves::Camera, fixed: &WIDE, pushed_px: 0.0 },
    ShakeCase { name: "shake, six, one pushed 2 px", moves: Moves::Camera, fixed: &WIDE, pushed_px: 2.0 },
    ShakeCase { name: "shake, three targets below", moves: Moves::Camera, fixed: &LOW, pushed_px: 0.0 },
    ShakeCase { name: "weave, four perforations", moves: Moves::Film, fixed: &WIDE_FOUR, pushed_px: 0.0 },
    ShakeCase { name: "weave, three targets below", moves: Moves::Film, fixed: &LOW, pushed_px: 0.0 },
];

struct Drawn {
    before: Vec<f64>,
    after: Vec<(f64, f64)>,
    model: &'static str,
    unsteadied: usize,
}

/// Draws a case `n` times.
///
/// # Errors
/// When a film cannot be steadied at all, which is a failure of the program.
pub fn shake_row(case: &ShakeCase, n: u64) -> anyhow::Result<ShakeRow> {
    let films = all(n, 1, |seed| one(case, seed))?;
    let before: Vec<f64> = films.iter().flat_map(|film| &film.before).copied().collect();
    let after: Vec<(f64, f64)> = films.iter().flat_map(|film| &film.after).copied().collect();
    let count = |name: &str| films.iter().filter(|film| film.model == name).count();
    let most = films.iter().map(|film| film.model).max_by_key(|name| count(name)).context("films")?;
    let n_frames = (films.len() * (N_FRAMES - 1)) as f64;
    Ok(ShakeRow {
        before: (before.iter().map(|error| error * error).sum::<f64>() / before.len() as f64).sqrt(),
        after: tally(&after),
        model: (most, count(most) as f64 / films.len() as f64),
        unsteadied: films.iter().map(|film| film.unsteadied).sum::<usize>() as f64 / n_frames,
    })
}

fn one(case: &ShakeCase, seed: u64) -> anyhow::Result<Drawn> {
    let mut draw = Draw::new(seed);
    let cov = PixelCov::round(MARK_U_PX);
    // What is not seen through a known lens: film that weaves carries its picture along.
    let lens = (case.moves == Moves::Camera).then(lens);
    let body = PixelPoint::new(draw.between(250.0, 1670.0), draw.between(200.0, 880.0));
    let phases = [0, 1, 2].map(|_| draw.between(0.0, TAU));
    let (mut marks, mut bodies) = (Vec::new(), Vec::new());
    for frame in 0..N_FRAMES {
        let step = Step::drawn(case.moves, frame, phases, &mut draw);
        bodies.push(draw.around(step.place(body), &cov));
        let mut seen = Vec::new();
        for (number, &[x, y]) in case.fixed.iter().enumerate() {
            let pushed = if number == 1 && frame >= N_FRAMES / 2 { case.pushed_px } else { 0.0 };
            let read = draw.around(step.place(PixelPoint::new(x, y)).moved(pushed, 0.0), &cov);
            let mark = FixedMark { point: read, cov };
            seen.push(lens.as_ref().map_or(Some(mark), |lens| ideal_mark(&mark, lens)));
        }
        marks.push(seen);
    }
    let mut models = vec![SteadyModel::Turn];
    if let Some(lens) = &lens {
        models.extend([SteadyModel::Zoom, SteadyModel::Plane, SteadyModel::swing(lens)]);
    }
    let film = steady_film(&marks, &models, lens, &SteadyOptions::default()).context("no step")?;
    let (mut before, mut after, mut unsteadied) = (Vec::new(), Vec::new(), 0);
    // The first frame is the reference: its own step is nothing. It is read at the truth as the others are held to be.
    let still = Step::drawn(case.moves, 0, phases, &mut Draw::new(seed)).place(body);
    for (read, step) in bodies.iter().zip(&film.steps).skip(1) {
        before.extend([read.x - still.x, read.y - still.y]);
        let Some(step) = step else {
            unsteadied += 1;
            continue;
        };
        let (at, u) = steady_from_stored(*read, &cov, step, film.lens.as_ref()).context("in the field")?;
        after.extend([(at.x - still.x, u.xx.sqrt()), (at.y - still.y, u.yy.sqrt())]);
    }
    Ok(Drawn { before, after, model: film.model.word(), unsteadied })
}

/// How one frame's picture lies against a camera at rest.
enum Step {
    Swing { lens: Lens, turn: Rotation3<f64> },
    Weave { dx: f64, dy: f64, turn: f64 },
}

impl Step {
    fn drawn(moves: Moves, frame: usize, phases: [f64; 3], draw: &mut Draw) -> Self {
        let t = frame as f64 / N_FRAMES as f64;
        let wave = |axis: usize, periods: f64| (TAU * periods * t + phases[axis]).sin();
        match moves {
            Moves::Camera => {
                let lens = lens();
                let (pan, tilt) = (SHAKE.0 / lens.fx_px * wave(0, 3.0), SHAKE.0 / lens.fy_px * wave(1, 4.3));
                let turn = Rotation3::from_euler_angles(tilt, pan, SHAKE.1.to_radians() * wave(2, 2.1));
                Self::Swing { lens, turn }
            }
            // The frame that others are compared with lies where it lies.
            Moves::Film if frame == 0 => Self::Weave { dx: 0.0, dy: 0.0, turn: 0.0 },
            Moves::Film => {
                Self::Weave { dx: draw.normal(WEAVE.0), dy: draw.normal(WEAVE.0), turn: draw.normal(WEAVE.1) }
            }
        }
    }

    fn place(&self, at: PixelPoint) -> PixelPoint {
        match self {
            Self::Swing { lens, turn } => {
                let ideal = lens.undistort(at).unwrap_or(at);
                let k = Matrix3::new(lens.fx_px, 0.0, lens.cx_px, 0.0, lens.fy_px, lens.cy_px, 0.0, 0.0, 1.0);
                let ray = k.try_inverse().unwrap_or_default() * Vector3::new(ideal.x, ideal.y, 1.0);
                let seen = k * (turn * ray);
                lens.distort(PixelPoint::new(seen.x / seen.z, seen.y / seen.z))
            }
            Self::Weave { dx, dy, turn } => {
                let (sin, cos) = turn.sin_cos();
                PixelPoint::new(at.x * cos - at.y * sin + dx, at.x * sin + at.y * cos + dy)
            }
        }
    }
}
