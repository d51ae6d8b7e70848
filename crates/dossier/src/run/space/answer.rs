//! Rows and findings of bodies in space, with what every doubtful input adds to them.

use super::body::SpaceBody;
use filmgauge_motion::{Side, Smoothed, extreme};
use filmgauge_quantities::{Seconds, Uncertain};
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource, MotionRow};

/// Findings of one body: name, curve, degrees or metres, how it is told.
const FINDINGS: [(&str, usize, bool, &str); 4] = [
    ("yaw_max", 3, true, "greatest yaw either way against before contact, nose left positive"),
    ("pitch_up_max", 4, true, "greatest nose-up pitch against before contact"),
    ("roll_max", 5, true, "greatest roll either way against before contact, left side up positive"),
    ("sideways_max", 1, false, "greatest shift to either side since contact, left positive"),
];

/// What moved inputs change: variances of every curve, frame by frame, and shares of every finding.
pub(super) struct Moved {
    /// By body, curve and order (value, rate, second derivative).
    variances: Vec<[[Vec<f64>; 3]; 6]>,
    /// By body and finding: line of the budget and change.
    shares: Vec<[Vec<Contribution>; FINDINGS.len()]>,
}

impl Moved {
    pub(super) fn of(bodies: &[SpaceBody]) -> Self {
        let none = |body: &SpaceBody| {
            std::array::from_fn(|curve| std::array::from_fn(|_| vec![0.0; body.curves[curve].times_s.len()]))
        };
        Self {
            variances: bodies.iter().map(none).collect(),
            shares: bodies.iter().map(|_| std::array::from_fn(|_| Vec::new())).collect(),
        }
    }

    /// Adds the answer with one input moved. Bodies that fail then are left as they are.
    pub(super) fn add(&mut self, source: String, stated: &[SpaceBody], moved: &[SpaceBody], contact_s: f64) {
        for (index, body) in stated.iter().enumerate() {
            let Some(other) = moved.iter().find(|other| other.id == body.id) else { continue };
            for (curve, sums) in self.variances[index].iter_mut().enumerate() {
                let (own, other) = (&body.curves[curve], &other.curves[curve]);
                for (order, sums) in sums.iter_mut().enumerate() {
                    let pairs = own.states.iter().zip(&other.states);
                    sums.iter_mut()
                        .zip(pairs)
                        .for_each(|(sum, (a, b))| *sum += (b[order] - a[order]).powi(2));
                }
            }
            for (finding, shares) in FINDINGS.iter().zip(&mut self.shares[index]) {
                let value = |body: &SpaceBody| greatest(body, finding.1, contact_s).ok().map(|found| found.0);
                let (Some(a), Some(b)) = (value(body), value(other)) else { continue };
                match shares.iter_mut().find(|share| share.source == source) {
                    Some(share) => share.u = share.u.hypot(b - a),
                    None => shares.push(Contribution { source: source.clone(), u: (b - a).abs() }),
                }
            }
        }
    }
}

/// Value of the greatest excursion after contact (pitch: nose up only; to the side: from the place at contact), its standard
/// uncertainty by the marks, and when.
fn greatest(body: &SpaceBody, curve: usize, contact_s: f64) -> Result<(f64, f64, f64), String> {
    let of = &body.curves[curve];
    let rest = if curve < 3 { of.at(contact_s).map_or(0.0, |(state, _)| state[0]) } else { 0.0 };
    let side = |side| {
        extreme(of, 0, side, (contact_s, f64::INFINITY))
            .map_err(|failure| format!("the film does not go on long enough after contact ({failure})"))
    };
    let (up, down) = (side(Side::Greatest)?, side(Side::Least)?);
    let chosen = if curve == 4 || (up.value - rest).abs() >= (down.value - rest).abs() { up } else { down };
    let level = if curve >= 3 { body.level_u_rad[curve - 3] } else { 0.0 };
    Ok((chosen.value - rest, chosen.u.hypot(level), chosen.time.as_s()))
}

pub(super) fn findings(
    camera: &str,
    body: &SpaceBody,
    moved: &Moved,
    index: usize,
    contact_s: f64,
) -> Vec<Finding> {
    let of = |(finding, shares): (&(&str, usize, bool, &str), &Vec<Contribution>)| {
        let &(name, curve, is_angle, method) = finding;
        let factor = if is_angle { 1.0_f64.to_degrees() } else { 1.0 };
        let unit = if is_angle { "deg" } else { "m" };
        let found = greatest(body, curve, contact_s);
        let mut budget = Vec::new();
        if let Ok((_, marks_u, _)) = &found {
            budget.push(Contribution { source: "marks".into(), u: marks_u * factor });
            budget.extend(shares.iter().map(|share| Contribution { u: share.u * factor, ..share.clone() }));
        }
        let method = format!("{method}; body in space from several cameras, degree-7 spline");
        made(name, body.id.as_str(), unit, found.map(|found| found.0 * factor), budget, method, camera)
    };
    FINDINGS.iter().zip(&moved.shares[index]).map(of).collect()
}

/// What a camera's clock reads more than the first one's.
pub(super) fn clock(cameras: &str, camera: &str, offset: &Uncertain<Seconds>) -> Finding {
    let budget = vec![Contribution { source: "marks and poses".into(), u: offset.u.as_s() }];
    let method = "what its clock reads more than the first camera's: bundle of all shared targets' paths, offset as an unknown";
    made("clock_offset", camera, "s", Ok(offset.value.as_s()), budget, method.into(), cameras)
}

fn made(
    name: &str,
    subject: &str,
    unit: &str,
    value: Result<f64, String>,
    budget: Vec<Contribution>,
    method: String,
    camera: &str,
) -> Finding {
    let uncertainty = value.is_ok().then(|| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt());
    Finding {
        name: name.to_owned(),
        subject: subject.to_owned(),
        source: FindingSource::Film,
        value: value.as_ref().ok().copied(),
        unit: unit.to_owned(),
        uncertainty,
        method,
        evidence: Evidence {
            camera: Some(camera.to_owned()),
            frames: None,
            settings: "cameras joined in space".into(),
        },
        budget,
        caution: None,
        reason: value.err(),
        absent: false,
    }
}

/// Motion rows of one body, frame by frame of the first camera.
pub(super) fn rows(camera: &str, body: &SpaceBody, moved: &Moved, index: usize) -> Vec<MotionRow> {
    let degree = 1.0_f64.to_degrees();
    let row = |frame: usize| {
        let cell = |curve: usize, order: usize| {
            let of: &Smoothed = &body.curves[curve];
            let factor = if curve >= 3 { degree } else { 1.0 };
            let level = if curve >= 3 && order == 0 { body.level_u_rad[curve - 3].powi(2) } else { 0.0 };
            let variance =
                of.covs[frame][order][order].max(0.0) + moved.variances[index][curve][order][frame] + level;
            (Some(of.states[frame][order] * factor), Some(variance.sqrt() * factor))
        };
        let mut row = MotionRow {
            time_s: body.curves[0].times_s[frame],
            camera: camera.to_owned(),
            body: body.id.to_string(),
            state: if body.is_posed.get(frame) == Some(&true) { "measured" } else { "bridged" }.into(),
            ..MotionRow::default()
        };
        (row.x_m, row.u_x_m) = cell(0, 0);
        (row.vx_m_s, row.u_vx_m_s) = cell(0, 1);
        (row.ax_m_s2, row.u_ax_m_s2) = cell(0, 2);
        (row.y_m, row.u_y_m) = cell(1, 0);
        (row.vy_m_s, row.u_vy_m_s) = cell(1, 1);
        (row.ay_m_s2, row.u_ay_m_s2) = cell(1, 2);
        (row.z_m, row.u_z_m) = cell(2, 0);
        (row.vz_m_s, row.u_vz_m_s) = cell(2, 1);
        (row.az_m_s2, row.u_az_m_s2) = cell(2, 2);
        (row.yaw_deg, row.u_yaw_deg) = cell(3, 0);
        (row.yaw_rate_deg_s, row.u_yaw_rate_deg_s) = cell(3, 1);
        (row.pitch_deg, row.u_pitch_deg) = cell(4, 0);
        (row.pitch_rate_deg_s, row.u_pitch_rate_deg_s) = cell(4, 1);
        (row.roll_deg, row.u_roll_deg) = cell(5, 0);
        (row.roll_rate_deg_s, row.u_roll_rate_deg_s) = cell(5, 1);
        row
    };
    (0..body.curves[0].times_s.len()).map(row).collect()
}
