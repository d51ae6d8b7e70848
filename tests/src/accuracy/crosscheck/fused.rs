//! Film and sensor in one motion, beside film alone and sensor alone, on the same rehearsals.

use super::scene::{Draws, Scene};
use super::{K95, Planted};
use anyhow::Context;
use filmgauge_crosscheck::{FilmAtSensor, FuseOptions, Fused, SensedAxis, fuse};
use filmgauge_motion::{SmoothOptions, Smoothed, smooth};
use filmgauge_sensors::{Channel, Interpolation, integrate, remove_offset};
use rayon::prelude::*;
use std::fmt::Write;

/// First seed; each rehearsal has its own.
const FIRST_SEED: u64 = 300_000;
/// Calibration error of a sound sensor, relative, and its zero, m/s².
const CALIBRATION_U: f64 = 0.01;
const ZERO_U_M_S2: f64 = 0.5;
/// Frames judged: every fifth, from contact on.
const EVERY: usize = 5;
/// Instants after contact at which drift is told, s.
const DRIFT_S: [f64; 3] = [0.1, 0.2, 0.29];

/// Errors of one rehearsal at the frames judged.
struct Errors {
    /// Travel since the first frame, m, and speed, m/s: film alone, sensor alone, fused.
    travel_m: [Vec<f64>; 3],
    speed_m_s: [Vec<f64>; 3],
    /// Whether truth lies in the 95 % band: speed by film, travel and speed fused.
    inside: [Vec<bool>; 3],
    /// Travel of the sensor alone less truth at [`DRIFT_S`].
    drift_m: [f64; 3],
}

/// Tables of `n` rehearsals.
pub(super) fn tables(page: &mut String, n: u64) -> anyhow::Result<()> {
    let all = (0..n)
        .into_par_iter()
        .map(|index| rehearsed(FIRST_SEED + index))
        .collect::<anyhow::Result<Vec<Errors>>>()?;
    let _ = writeln!(
        page,
        "\n### Fused motion\n\n{n} rehearsals as above with sound sensors: calibration off by 1 % and zero by 0.05 g (one standard \
         uncertainty each), drawn. Errors from contact to 0.29 s at every fifth frame, against the film's clock. Sensor alone: zero out \
         over the quiet stretch, class as stored, integrated from the true speed and place at the first frame, pitch left out. Bands \
         hold scale, film speed, marks, sensor noise, calibration (stated as 2 %); for film alone scale, film speed and marks.\n\n\
         | motion | travel, RMS | speed, RMS | travel inside 95 % | speed inside 95 % |\n| --- | --- | --- | --- | --- |"
    );
    let rms = |of: &dyn Fn(&Errors) -> Vec<f64>| {
        let (sum, count) = all.iter().flat_map(of).fold((0.0, 0.0), |(s, n), e| (s + e * e, n + 1.0));
        (sum / count).sqrt()
    };
    let share = |at: usize| {
        let (held, count) = all
            .iter()
            .flat_map(|one| one.inside[at].iter())
            .fold((0, 0), |(held, count), inside| (held + usize::from(*inside), count + 1));
        super::share(held, count)
    };
    for (at, name) in ["film alone", "sensor alone", "fused"].into_iter().enumerate() {
        let inside = match at {
            0 => ["–".to_owned(), share(0)],
            1 => ["–".to_owned(), "–".to_owned()],
            _ => [share(1), share(2)],
        };
        let _ = writeln!(
            page,
            "| {name} | {:.2} mm | {:.4} m/s | {} | {} |",
            1e3 * rms(&|one| one.travel_m[at].clone()),
            rms(&|one| one.speed_m_s[at].clone()),
            inside[0],
            inside[1]
        );
    }
    let drift = |at: usize| 1e3 * rms(&|one| vec![one.drift_m[at]]);
    let _ = writeln!(
        page,
        "\nDrift of the sensor alone, RMS of its travel: {:.1} mm at 100 ms, {:.1} mm at 200 ms, {:.1} mm at 290 ms.",
        drift(0),
        drift(1),
        drift(2)
    );
    Ok(())
}

fn rehearsed(seed: u64) -> anyhow::Result<Errors> {
    let mut draws = Draws::new(seed);
    let scene = Scene::drawn(&mut draws);
    let (film, late_s) = scene.film_and_lateness(SensedAxis::X, &mut draws);
    let gain = 1.0 + CALIBRATION_U * draws.normal();
    let zero_m_s2 = ZERO_U_M_S2 * draws.normal();
    let mut channel = scene.channel(SensedAxis::X, &Planted::Sound, &mut draws);
    channel.values.iter_mut().for_each(|value| *value = gain * *value + zero_m_s2);
    let fused = fuse(&film, &channel, SensedAxis::X, &FuseOptions::default())?;
    let curve = smooth(
        &film.times_s,
        &film.position_m,
        &SmoothOptions { onsets_s: vec![0.0], ..SmoothOptions::default() },
    )?;
    let truth = Truth { late_s, exact_m: scene.positions_m(SensedAxis::X) };
    let alone = SensorAlone::of(&channel, &truth, fused.times_s[0])?;
    Ok(errors(&film, &curve, &fused, &alone, &truth))
}

/// The motion as the film's clock has it.
struct Truth {
    late_s: f64,
    exact_m: Vec<f64>,
}

impl Truth {
    fn place_m(&self, t: f64) -> f64 {
        super::scene::between(&self.exact_m, t + self.late_s)
    }

    fn speed_m_s(&self, t: f64) -> f64 {
        (self.place_m(t + 1e-4) - self.place_m(t - 1e-4)) / 2e-4
    }
}

/// A channel integrated twice from the truth at one instant.
struct SensorAlone {
    speed: Channel,
    place: Channel,
}

impl SensorAlone {
    fn of(channel: &Channel, truth: &Truth, from_s: f64) -> anyhow::Result<Self> {
        let (level, _) = remove_offset(channel, -0.055, -0.005)?;
        let mut speed = integrate(&level, 0.0)?;
        let start = speed.at(from_s, Interpolation::Linear).context("the record begins before the film")?;
        let off = truth.speed_m_s(from_s) - start;
        speed.values.iter_mut().for_each(|value| *value += off);
        let mut place = integrate(&speed, 0.0)?;
        let start = place.at(from_s, Interpolation::Linear).context("the record begins before the film")?;
        place.values.iter_mut().for_each(|value| *value -= start);
        Ok(Self { speed, place })
    }

    fn at(&self, t: f64) -> [f64; 2] {
        [&self.place, &self.speed].map(|of| of.at(t, Interpolation::Linear).unwrap_or_default())
    }
}

fn errors(
    film: &FilmAtSensor,
    curve: &Smoothed,
    fused: &Fused,
    alone: &SensorAlone,
    truth: &Truth,
) -> Errors {
    let mut errors = Errors {
        travel_m: Default::default(),
        speed_m_s: Default::default(),
        inside: Default::default(),
        drift_m: [0.0; 3],
    };
    let first_s = fused.times_s[0];
    let travelled = |t: f64| truth.place_m(t) - truth.place_m(first_s);
    let [common_u, speed_u] = [film.gain_relative_u, film.speed_relative_u];
    for at in (0..fused.times_s.len()).step_by(EVERY).filter(|at| fused.times_s[*at] >= 0.0) {
        let t = fused.times_s[at];
        let Some(frame) = film.times_s.iter().position(|frame_s| *frame_s == t) else { continue };
        let (state, cov) = (curve.states[frame], curve.covs[frame]);
        let (moved, speed) = (travelled(t), truth.speed_m_s(t));
        let (together, faster) = (fused.place_m[at], fused.speed_m_s[at]);
        let [sensed_m, sensed_m_s] = alone.at(t);
        let travels = [state[0] - curve.states[0][0], sensed_m, together.value - fused.place_m[0].value];
        for (list, travel) in errors.travel_m.iter_mut().zip(travels) {
            list.push(travel - moved);
        }
        for (list, value) in errors.speed_m_s.iter_mut().zip([state[1], sensed_m_s, faster.value]) {
            list.push(value - speed);
        }
        let film_u = (cov[1][1].max(0.0) + (common_u * speed).powi(2) + (speed_u * speed).powi(2)).sqrt();
        errors.inside[0].push((state[1] - speed).abs() <= K95 * film_u);
        // What is common to both ends drops out of a travel: the modes say how much.
        let squares: f64 = fused.modes.iter().map(|(place, _)| (place[at] - place[0]).powi(2)).sum();
        let shared: f64 = fused.modes.iter().map(|(place, _)| place[at].powi(2)).sum();
        let travel_u = (squares + (together.u.powi(2) - shared).max(0.0)).sqrt();
        errors.inside[1].push((travels[2] - moved).abs() <= K95 * travel_u);
        errors.inside[2].push((faster.value - speed).abs() <= K95 * faster.u);
    }
    errors.drift_m = DRIFT_S.map(|t| alone.at(t)[0] - travelled(t));
    errors
}
