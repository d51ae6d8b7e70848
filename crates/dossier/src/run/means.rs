//! How curves along the path were differentiated, and the same marks by other means beside them: to be compared, no
//! finding comes from them.

use super::budget::Budgeted;
use super::evaluate::{BodyState, Sample};
use crate::document::{BesideMethod, Role};
use filmgauge_motion::{
    ButterworthOptions, CutOff, DerivativeLimits, Filtered, MotionFailure, ResidualOptions,
    SavitzkyGolayOptions, SmoothOptions, Smoothed, SmoothnessComparison, compare_smoothness, limits_of_curve,
    limits_of_filter,
};
use filmgauge_quantities::{COVERAGE_95, ViewPlane};
use filmgauge_results::{Curve, CurveBand, CurvePoint};
use filmgauge_sensors::{CfcClass, StartRule};

/// A polynomial of Savitzky and Golay reaches so far to either side, s.
const WINDOW_S: f64 = 0.010;
/// Its degree: the least that lets an acceleration change.
const POLYNOMIAL: usize = 3;
/// Times count as even to this share of the step.
const EVEN: f64 = 1e-3;

/// One body's place along the path by another means.
enum Other {
    Filtered(Filtered),
    Smoothed(Box<SmoothnessComparison>),
}

/// Marks and curve along the path of one body, where it lies.
struct Along<'a> {
    times_s: &'a [f64],
    samples: &'a [Sample],
    body: &'a BodyState,
}

impl Along<'_> {
    fn by(&self, method: BesideMethod, smooth: &SmoothOptions) -> Result<Other, MotionFailure> {
        match method {
            BesideMethod::Butterworth => {
                let cut_off = CutOff::Residuals(ResidualOptions::default());
                let options = ButterworthOptions { cut_off };
                filmgauge_motion::butterworth(self.times_s, self.samples, &options).map(Other::Filtered)
            }
            BesideMethod::SavitzkyGolay => {
                let options =
                    SavitzkyGolayOptions { half_width: half_width(self.times_s), degree: POLYNOMIAL };
                filmgauge_motion::savitzky_golay(self.times_s, self.samples, &options).map(Other::Filtered)
            }
            BesideMethod::StatedNoise => {
                let found = &self.body.motion.x.changes;
                let given = found.iter().filter(|change| change.given);
                let options = SmoothOptions {
                    onsets_s: given.clone().map(|change| change.time_s).collect(),
                    onset_u_s: given.map(|change| change.u_s).fold(0.0, f64::max),
                    ..smooth.clone()
                };
                compare_smoothness(self.times_s, self.samples, &options)
                    .map(|both| Other::Smoothed(Box::new(both)))
            }
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "at least 2, and checked above 200"
)]
fn half_width(times_s: &[f64]) -> usize {
    step_s(times_s).map_or(2, |step_s| (WINDOW_S / step_s).round().clamp(2.0, 1e4) as usize)
}

/// Mean step of the times; `None` for fewer than two.
fn step_s(times_s: &[f64]) -> Option<f64> {
    let (first, last) = (times_s.first()?, times_s.last()?);
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let n = times_s.len().checked_sub(1).filter(|n| *n > 0)? as f64;
    Some((last - first) / n)
}

/// What stands beside the curves of one camera.
#[derive(Default)]
pub(crate) struct Means {
    /// Speeds along the path, m/s.
    pub(crate) speeds: Vec<Curve>,
    /// Accelerations along the path, m/s².
    pub(crate) accelerations: Vec<Curve>,
    /// Label and text for the camera's settings.
    pub(crate) lines: Vec<(String, String)>,
}

/// Limits of each derivative along the path, and what the dossier asks for beside it.
pub(crate) fn means(camera: &Budgeted<'_>, methods: &[BesideMethod]) -> Means {
    let mut means = Means::default();
    for body in camera.motion.bodies.iter().filter(|body| body.role != Role::Ground) {
        let label = format!("Derivatives of {}", body.id);
        means.lines.push((label.clone(), own_text(camera, body)));
        let times_s = &camera.motion.times_s;
        let (first, last) = ends(&body.along);
        let along = Along { times_s: &times_s[first..last], samples: &body.along[first..last], body };
        for &method in methods {
            match along.by(method, &camera.inputs.options.smooth) {
                Ok(other) => other.add_to(&mut means, &along),
                Err(why) => {
                    means.lines.push((label.clone(), format!("{} not made: {why}", method.word())));
                }
            }
        }
    }
    means
}

/// From the first to the last mark.
fn ends(samples: &[Sample]) -> (usize, usize) {
    let first = samples.iter().position(Option::is_some).unwrap_or(0);
    (first, samples.iter().rposition(Option::is_some).map_or(first, |last| last + 1))
}

impl Other {
    fn add_to(&self, means: &mut Means, along: &Along<'_>) {
        let id = &along.body.id;
        let mut put = |name: &str, text: String, rows: &dyn Fn(usize) -> Vec<CurvePointAndU>| {
            means.lines.push((format!("Derivatives of {id}"), text));
            for (order, curves) in [(1, &mut means.speeds), (2, &mut means.accelerations)] {
                curves.push(curve(format!("{id}, film by {name}"), &rows(order)));
            }
        };
        match self {
            Self::Filtered(filtered) => {
                let limits = limits_of_filter(filtered, marks_u(along.samples));
                let limits = limits.map(|limits| format!("; {}", limit_text(&limits, ["m/s", "m/s²"], 1.0)));
                let text = format!(
                    "x beside: {}, {}{}",
                    filtered.method,
                    filtered.setting,
                    limits.unwrap_or_default()
                );
                let name = format!("{}, {}", short(filtered.method), filtered.setting);
                put(&name, text, &|order| {
                    let rows = filtered.times_s.iter().zip(&filtered.states);
                    rows.map(|(&time_s, state)| (time_s, state[order])).collect()
                });
            }
            Self::Smoothed(both) => {
                let [_, speed, acceleration] = both.rms_difference;
                let text = format!(
                    "x beside: the stated noise of the marks in place of cross-validation; speeds {speed:.3} m/s apart \
                     (root mean square), accelerations {acceleration:.2} m/s²; strength 10^{:.1} of that",
                    -both.log_strength_ratio
                );
                put("stated noise", text, &|order| {
                    let known = &both.known_noise;
                    let rows = known.times_s.iter().zip(known.states.iter().zip(&known.covs));
                    rows.map(|(&time_s, (state, cov))| {
                        (time_s, Some((state[order], cov[order][order].max(0.0).sqrt())))
                    })
                    .collect()
                });
            }
        }
    }
}

/// Time, value and standard uncertainty.
type CurvePointAndU = (f64, Option<(f64, f64)>);

fn curve(label: String, rows: &[CurvePointAndU]) -> Curve {
    let points =
        rows.iter().map(|(time_s, it)| CurvePoint { time_s: *time_s, value: it.map(|(value, _)| value) });
    let half_width = rows.iter().map(|(_, it)| it.map(|(_, u)| COVERAGE_95 * u)).collect();
    Curve { label, source: "film".into(), points: points.collect(), band: Some(CurveBand { half_width }) }
}

/// The first word of a method's name.
fn short(method: &str) -> &str {
    if method.contains("Butterworth") { "Butterworth" } else { "Savitzky-Golay" }
}

/// Root mean square standard deviation of the marks.
fn marks_u(samples: &[Sample]) -> f64 {
    let variances: Vec<f64> = samples.iter().flatten().map(|(_, variance)| *variance).collect();
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let n = variances.len().max(1) as f64;
    (variances.iter().sum::<f64>() / n).sqrt()
}

/// Method, band and least error of each curve of a body.
fn own_text(camera: &Budgeted<'_>, body: &BodyState) -> String {
    let (second, angle) = match camera.inputs.camera.view {
        ViewPlane::Side => ("z", "pitch"),
        ViewPlane::Overhead => ("y", "yaw"),
    };
    let u = |axis: usize| {
        marks_u(
            &body.motion.poses.iter().map(|it| it.map(|it| (0.0, it.cov[axis][axis]))).collect::<Vec<_>>(),
        )
    };
    let text = |name: &str, curve: &Smoothed, axis: usize, units: [&str; 2], factor: f64| {
        let band = curve.band_hz();
        let widest = (0..band.len()).max_by(|&a, &b| band[a].total_cmp(&band[b]))?;
        let narrowest = band.iter().copied().fold(f64::INFINITY, f64::min);
        let limits = limits_of_curve(curve, widest, u(axis) * curve.noise_scale)?;
        Some(format!(
            "{name} by {}, band {narrowest:.0} to {:.0} Hz; {}",
            limits.method,
            limits.band_hz,
            limit_text(&limits, units, factor)
        ))
    };
    let metres = ["m/s", "m/s²"];
    let lines = [
        text("x", &body.motion.x, 0, metres, 1.0),
        text(second, &body.motion.z, 1, metres, 1.0),
        body.motion
            .angle
            .as_ref()
            .and_then(|curve| text(angle, curve, 2, ["°/s", "°/s²"], 1.0_f64.to_degrees())),
    ];
    lines.into_iter().flatten().collect::<Vec<_>>().join(". ")
}

/// Least error of the rate and of the second derivative.
fn limit_text(limits: &DerivativeLimits, units: [&str; 2], factor: f64) -> String {
    let [_, rate, second] = limits.limits.map(|limit| two_digits(limit * factor));
    let [per_s, per_s2] = units;
    format!(
        "least possible error at {:.0} Hz (Lanshammar) {rate} {per_s} and {second} {per_s2}",
        limits.band_hz
    )
}

/// Two digits that count, without powers of ten.
fn two_digits(value: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 9")]
    let decimals = if value > 0.0 { (1.0 - value.log10().floor()).clamp(0.0, 9.0) as usize } else { 0 };
    format!("{value:.decimals$}")
}

/// The film's acceleration in the class of the channels drawn with it: only curves of one class are compared. `None` where
/// the frames are uneven or too slow for the class.
pub(crate) fn in_class(body: &BodyState, class: CfcClass) -> Option<Curve> {
    let curve = &body.motion.x;
    let step_s = step_s(&curve.times_s)?;
    let is_even = curve.times_s.windows(2).all(|pair| (pair[1] - pair[0] - step_s).abs() <= EVEN * step_s);
    let values: Vec<f64> = curve.states.iter().map(|state| state[2]).collect();
    let filtered = filmgauge_sensors::cfc(&values, 1.0 / step_s, class, StartRule::default())
        .ok()
        .filter(|_| is_even)?;
    let points = curve.times_s.iter().zip(filtered);
    Some(Curve {
        label: format!("{}, film, CFC {}", body.id, class.number_hz()),
        source: "film".into(),
        points: points.map(|(&time_s, value)| CurvePoint { time_s, value: Some(value) }).collect(),
        band: None,
    })
}
