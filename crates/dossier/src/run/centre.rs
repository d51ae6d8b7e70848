//! Cameras on both sides of a vehicle: the mean of what they say is what its centre plane does, and their difference a check.

use crate::plan::CentrePlan;
use filmgauge_results::{Contribution, Finding, MotionRow, Notice, Severity};

/// Differences beyond so many standard uncertainties ask for a person.
const APART: f64 = 3.0;
/// Two frames further apart than this have a gap between them, s.
const GAP_S: f64 = 0.02;

/// A value of a row and its standard uncertainty.
type Cell = (fn(&MotionRow) -> [Option<f64>; 2], fn(&mut MotionRow) -> [&mut Option<f64>; 2]);

/// What both side cameras measure.
const CELLS: [Cell; 8] = [
    (|row| [row.x_m, row.u_x_m], |row| [&mut row.x_m, &mut row.u_x_m]),
    (|row| [row.z_m, row.u_z_m], |row| [&mut row.z_m, &mut row.u_z_m]),
    (|row| [row.pitch_deg, row.u_pitch_deg], |row| [&mut row.pitch_deg, &mut row.u_pitch_deg]),
    (|row| [row.vx_m_s, row.u_vx_m_s], |row| [&mut row.vx_m_s, &mut row.u_vx_m_s]),
    (|row| [row.vz_m_s, row.u_vz_m_s], |row| [&mut row.vz_m_s, &mut row.u_vz_m_s]),
    (
        |row| [row.pitch_rate_deg_s, row.u_pitch_rate_deg_s],
        |row| [&mut row.pitch_rate_deg_s, &mut row.u_pitch_rate_deg_s],
    ),
    (|row| [row.ax_m_s2, row.u_ax_m_s2], |row| [&mut row.ax_m_s2, &mut row.u_ax_m_s2]),
    (|row| [row.az_m_s2, row.u_az_m_s2], |row| [&mut row.az_m_s2, &mut row.u_az_m_s2]),
];

fn id(plan: &CentrePlan) -> String {
    format!("{}+{}", plan.left, plan.right)
}

/// Means of the findings that both cameras made. The cameras' doubts are their own: boards, lenses, marks and clocks.
pub(crate) fn findings(plan: &CentrePlan, all: &[Finding]) -> Vec<Finding> {
    pairs(plan, all).filter_map(|(left, right)| mean(plan, left, right)).collect()
}

fn pairs<'a>(plan: &'a CentrePlan, all: &'a [Finding]) -> impl Iterator<Item = (&'a Finding, &'a Finding)> {
    let of = |finding: &Finding, camera: &str| finding.evidence.camera.as_deref() == Some(camera);
    let lefts = all.iter().filter(move |finding| of(finding, &plan.left));
    lefts.filter_map(move |left| {
        let same = |right: &&Finding| {
            of(right, &plan.right)
                && right.name == left.name
                && right.subject == left.subject
                && right.source == left.source
        };
        Some((left, all.iter().find(same)?))
    })
}

fn mean(plan: &CentrePlan, left: &Finding, right: &Finding) -> Option<Finding> {
    let (a, b) = (left.value?, right.value?);
    let of = |finding: &Finding, camera: &str| {
        finding.uncertainty.map(|u| Contribution { source: format!("camera {camera}"), u: 0.5 * u })
    };
    let budget = vec![of(left, &plan.left)?, of(right, &plan.right)?];
    let mut found = Finding {
        value: Some(0.5 * (a + b)),
        uncertainty: Some(budget[0].u.hypot(budget[1].u)),
        method: format!("mean of cameras {} and {} on both sides: the centre plane", plan.left, plan.right),
        budget,
        ..left.clone()
    };
    found.evidence.camera = Some(id(plan));
    found.evidence.frames = None;
    Some(found)
}

/// Findings on which both sides disagree.
pub(crate) fn notices(plan: &CentrePlan, all: &[Finding]) -> Vec<Notice> {
    let apart = |(left, right): (&Finding, &Finding)| {
        let (a, b) = (left.value?, right.value?);
        let u = left.uncertainty?.hypot(right.uncertainty?);
        ((a - b).abs() > APART * u).then(|| Notice {
            severity: Severity::Person,
            place: format!("cameras {}, {} of {}", id(plan), left.name, left.subject),
            text: format!("the two sides differ by {:.4} {}, {:.1} times the doubt of that", a - b, left.unit, (a - b).abs() / u),
            remedy: "Check both boards, plane offsets and film speeds; a vehicle that yaws or rolls differs from side to side"
                .into(),
        })
    };
    pairs(plan, all).filter_map(apart).collect()
}

/// Means of the motion of bodies that both cameras follow, at the left camera's frames.
pub(crate) fn rows(plan: &CentrePlan, all: &[MotionRow]) -> Vec<MotionRow> {
    let of = |camera: &str, body: &str| -> Vec<&MotionRow> {
        all.iter().filter(|row| row.camera == camera && row.body == body).collect()
    };
    let mut bodies: Vec<&str> = Vec::new();
    for row in all.iter().filter(|row| row.camera == plan.left) {
        if !bodies.contains(&row.body.as_str()) {
            bodies.push(&row.body);
        }
    }
    let mut means = Vec::new();
    for body in bodies {
        let right = of(&plan.right, body);
        means.extend(of(&plan.left, body).iter().filter_map(|row| mean_row(plan, row, &right)));
    }
    means
}

fn mean_row(plan: &CentrePlan, left: &MotionRow, right: &[&MotionRow]) -> Option<MotionRow> {
    let after = right.partition_point(|row| row.time_s < left.time_s);
    let (before, after) = (right.get(after.checked_sub(1)?)?, right.get(after)?);
    let span_s = after.time_s - before.time_s;
    let share = (left.time_s - before.time_s) / span_s;
    if !(0.0..=1.0).contains(&share) || span_s > GAP_S {
        return None;
    }
    let is_measured = [left, *before, *after].iter().all(|row| row.state == "measured");
    let mut row = MotionRow {
        time_s: left.time_s,
        camera: id(plan),
        body: left.body.clone(),
        state: if is_measured { "measured" } else { "bridged" }.into(),
        ..MotionRow::default()
    };
    for (get, set) in CELLS {
        let ([Some(a), Some(u_a)], [Some(b0), Some(u_0)], [Some(b1), Some(u_1)]) =
            (get(left), get(before), get(after))
        else {
            continue;
        };
        let [value, u] = set(&mut row);
        *value = Some(0.5 * (a + b0 + share * (b1 - b0)));
        // Neighbouring frames share their doubts: the greater one stands for both.
        *u = Some(0.5 * u_a.hypot(u_0.max(u_1)));
    }
    Some(row)
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_results::{Evidence, FindingSource};

    fn plan() -> CentrePlan {
        CentrePlan { left: "left".into(), right: "right".into() }
    }

    fn finding(camera: &str, value: f64, u: f64) -> Finding {
        Finding {
            name: "contact_speed".into(),
            subject: "car".into(),
            source: FindingSource::Film,
            value: Some(value),
            unit: "m/s".into(),
            uncertainty: Some(u),
            method: String::new(),
            evidence: Evidence { camera: Some(camera.into()), ..Evidence::default() },
            budget: Vec::new(),
            caution: None,
            reason: None,
            absent: false,
        }
    }

    #[test]
    fn the_mean_has_half_the_root_of_both_doubts() {
        let all = [finding("left", 14.0, 0.03), finding("right", 14.1, 0.04)];
        let means = findings(&plan(), &all);
        assert_eq!(means.len(), 1);
        assert!((means[0].value.unwrap() - 14.05).abs() < 1e-12);
        assert!((means[0].uncertainty.unwrap() - 0.025).abs() < 1e-12);
        assert!(notices(&plan(), &all).is_empty());
        let apart = [finding("left", 14.0, 0.03), finding("right", 14.2, 0.04)];
        assert!(notices(&plan(), &apart)[0].text.contains("4.0 times"), "{:?}", notices(&plan(), &apart));
    }

    #[test]
    fn rows_meet_at_the_left_cameras_frames() {
        let row = |camera: &str, time_s: f64, x_m: f64| MotionRow {
            time_s,
            camera: camera.into(),
            body: "car".into(),
            x_m: Some(x_m),
            u_x_m: Some(0.002),
            state: "measured".into(),
            ..MotionRow::default()
        };
        let all = [
            row("left", 0.001, 1.0),
            row("left", 0.5, 9.0),
            row("right", 0.0, 2.0),
            row("right", 0.002, 3.0),
        ];
        let means = rows(&plan(), &all);
        assert_eq!(means.len(), 1, "the second has nothing on the right");
        assert!((means[0].x_m.unwrap() - 1.75).abs() < 1e-12 && means[0].z_m.is_none());
        assert!((means[0].u_x_m.unwrap() - 0.001 * 2.0_f64.sqrt()).abs() < 1e-12);
    }
}
