//! Head impact, severity index and means from film alone, with their ± by curves drawn from what the film knows.

use super::budget::Budgeted;
use super::evaluate::BodyState;
use super::severity::{Label, doubt_zero, labelled};
use crate::document::Role;
use crate::options::RunOptions;
use filmgauge_motion::Smoothed;
use filmgauge_occupant::{OccupantFailure, OccupantFigure, SevereAxis, SevereRecord, figures_by_draws};
use filmgauge_quantities::ViewPlane;
use filmgauge_results::{Evidence, Finding, FindingSource};

/// What a view from the side leaves out.
pub(crate) const ALONG_PATH: &str = "motion to a side and yaw count as 0";
/// Figures that film and fused motion give by their own flail space.
const BY_FLAIL: [&str; 3] = ["occupant_impact_velocity", "occupant_impact_time", "ridedown_acceleration"];
const SOURCES: [&str; 4] = ["marks", "contact", "scale", "film speed"];

/// The figures of the striking body; none where it was not measured, or contact not found.
pub(crate) fn findings(camera: &Budgeted<'_>, options: &RunOptions) -> Vec<Finding> {
    let Some(body) = camera.motion.with_role(Role::Striking) else { return Vec::new() };
    let Ok(contact) = camera.motion.contact.as_ref() else { return Vec::new() };
    if camera.inputs.camera.view != ViewPlane::Side {
        return Vec::new();
    }
    let label = Label {
        source: FindingSource::Film,
        subject: body.id.as_str(),
        from: format!("from film, smoothed accelerations of the {}", body.point),
        evidence: Evidence {
            camera: Some(camera.inputs.camera.id.to_string()),
            frames: None,
            settings: format!("± by Monte Carlo, {} draws for each source", options.occupant.n_draws),
        },
        caution: format!("; {ALONG_PATH}; film shows short peaks less than a sensor does"),
    };
    let curves = Curves::of(body);
    let Some(stated) = curves.stated(contact.time_s) else { return Vec::new() };
    let [scale_u, speed_u] = camera.scale_and_speed_u(body);
    let drawn = |source: usize, normal: &mut dyn FnMut() -> f64| match source {
        0 => curves.drawn(contact.time_s, normal).unwrap_or_else(|| stated.clone()),
        1 => SevereRecord { contact_s: (contact.time_s + contact.u_s * normal(), 0.0), ..stated.clone() },
        2 => times(&stated, 1.0 + scale_u * normal(), 1.0),
        // A film speed that is higher by e shortens every time by that and raises an acceleration twice as much.
        _ => {
            let speed = 1.0 + speed_u * normal();
            times(&stated, speed * speed, 1.0 / speed)
        }
    };
    let mut all = further(figures_by_draws(&stated, &SOURCES, drawn, &options.occupant), &label, options);
    // Upward, a greatest mean of film is mostly its own noise.
    all.retain(|finding| !finding.name.ends_with("_upright"));
    doubt_zero(&mut all, camera.motion.clock.zero_u_s);
    all
}

/// Figures beyond the flail space as findings. That a head does not strike is said by the flail space already: nobody need act again.
pub(crate) fn further(
    figures: Result<Vec<OccupantFigure>, OccupantFailure>,
    label: &Label<'_>,
    options: &RunOptions,
) -> Vec<Finding> {
    let figures = figures.unwrap_or_default().into_iter().filter(|figure| !BY_FLAIL.contains(&figure.name));
    figures
        .map(|figure| {
            let mut finding = labelled(figure, label, options);
            finding.absent = finding.reason.is_some();
            finding
        })
        .collect()
}

/// Accelerations between speeds along the path, as a record; `None` for fewer than three.
pub(crate) fn from_speeds(times_s: &[f64], speeds_m_s: &[f64], contact_s: f64) -> Option<SevereRecord> {
    let middles: Vec<f64> = times_s.windows(2).map(|pair| f64::midpoint(pair[0], pair[1])).collect();
    let slopes = times_s.windows(2).zip(speeds_m_s.windows(2)).map(|(t, v)| (v[1] - v[0]) / (t[1] - t[0]));
    let slopes: Vec<f64> = slopes.collect();
    let (start_s, step_s, x) = even(&middles, &slopes)?;
    Some(SevereRecord {
        start_s,
        step_s,
        contact_s: (contact_s, 0.0),
        x: axis(x),
        y: None,
        z: None,
        yaw: None,
    })
}

/// Accelerations times one factor, times times another.
fn times(stated: &SevereRecord, factor: f64, longer: f64) -> SevereRecord {
    let scaled = |axis: &SevereAxis| SevereAxis {
        values: axis.values.iter().map(|value| factor * value).collect(),
        ..axis.clone()
    };
    SevereRecord {
        start_s: longer * stated.start_s,
        step_s: longer * stated.step_s,
        contact_s: (longer * stated.contact_s.0, 0.0),
        x: scaled(&stated.x),
        y: None,
        z: stated.z.as_ref().map(scaled),
        yaw: None,
    }
}

/// The curves of a body: along the path, up, and its pitch where it has one.
struct Curves<'a> {
    x: &'a Smoothed,
    z: &'a Smoothed,
    angle: Option<&'a Smoothed>,
}

impl<'a> Curves<'a> {
    fn of(body: &'a BodyState) -> Self {
        Self { x: &body.motion.x, z: &body.motion.z, angle: body.motion.angle.as_ref() }
    }

    fn stated(&self, contact_s: f64) -> Option<SevereRecord> {
        let angle = self.angle.map(|angle| angle.states.as_slice());
        self.record(&self.x.states, &self.z.states, angle, contact_s)
    }

    fn drawn(&self, contact_s: f64, normal: &mut dyn FnMut() -> f64) -> Option<SevereRecord> {
        let (x, z) = (self.x.drawn(&mut *normal), self.z.drawn(&mut *normal));
        let angle = self.angle.map(|angle| angle.drawn(&mut *normal));
        self.record(&x, &z, angle.as_deref(), contact_s)
    }

    /// In the body's own axes: forward and up turn with its pitch. Gravity is not in it, as in a sensor that was zeroed at rest.
    fn record(
        &self,
        x: &[[f64; 4]],
        z: &[[f64; 4]],
        angle: Option<&[[f64; 4]]>,
        contact_s: f64,
    ) -> Option<SevereRecord> {
        let (mut forward, mut up) = (Vec::with_capacity(x.len()), Vec::with_capacity(x.len()));
        for (index, (x, z)) in x.iter().zip(z).enumerate() {
            let pitch = angle.and_then(|angle| angle.get(index)).map_or(0.0, |state| state[0]);
            let (sin, cos) = pitch.sin_cos();
            forward.push(x[2] * cos + z[2] * sin);
            up.push(z[2] * cos - x[2] * sin);
        }
        let (start_s, step_s, forward) = even(&self.x.times_s, &forward)?;
        let (_, _, up) = even(&self.x.times_s, &up)?;
        let z = Some(axis(up));
        Some(SevereRecord {
            start_s,
            step_s,
            contact_s: (contact_s, 0.0),
            x: axis(forward),
            y: None,
            z,
            yaw: None,
        })
    }
}

fn axis(values: Vec<f64>) -> SevereAxis {
    SevereAxis { values, zero_u: 0.0, calibration_u: 0.0, noise: Vec::new() }
}

/// On as many even steps, by straight lines; frames of a film are even but for its clock. `None` for fewer than two.
#[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^53")]
fn even(times_s: &[f64], values: &[f64]) -> Option<(f64, f64, Vec<f64>)> {
    let (first_s, last_s) = (*times_s.first()?, *times_s.last()?);
    let n = times_s.len().min(values.len());
    if n < 2 || last_s <= first_s {
        return None;
    }
    let step_s = (last_s - first_s) / (n - 1) as f64;
    let at = |index: usize| {
        let time_s = first_s + index as f64 * step_s;
        let after = times_s[..n].partition_point(|&frame_s| frame_s < time_s).clamp(1, n - 1);
        let share = (time_s - times_s[after - 1]) / (times_s[after] - times_s[after - 1]);
        values[after - 1] + share.clamp(0.0, 1.0) * (values[after] - values[after - 1])
    };
    Some((first_s, step_s, (0..n).map(at).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_occupant::FigureOptions;

    /// A constant deceleration A on film has a mean of A over any window (closed form), and speeds give the same as accelerations.
    #[test]
    fn speeds_become_accelerations_on_even_steps() {
        let times_s: Vec<f64> = (0..400).map(|i| -0.1 + f64::from(i) * 1e-3).collect();
        let speeds: Vec<f64> = times_s.iter().map(|t| 20.0 - 98.0665 * t.clamp(0.0, 0.2)).collect();
        let record = from_speeds(&times_s, &speeds, 0.0).unwrap();
        let same = |_: usize, _: &mut dyn FnMut() -> f64| record.clone();
        let options = FigureOptions { n_draws: 16, ..FigureOptions::default() };
        let figures = figures_by_draws(&record, &["none"], same, &options).unwrap();
        let value = |name: &str| figures.iter().find(|it| it.name == name).unwrap().value.clone().unwrap().0;
        assert!((value("mean_50ms") + 98.0665).abs() < 1e-6);
        assert!((value("head_impact_velocity") - 10.848).abs() < 0.03);
        assert!(from_speeds(&times_s[..2], &speeds[..2], 0.0).is_none());
        let fast = times(&record, 4.0, 0.5);
        assert!((fast.step_s - 0.5 * record.step_s).abs() < 1e-12);
        assert!((fast.x.values[200] - 4.0 * record.x.values[200]).abs() < 1e-9);
    }
}
