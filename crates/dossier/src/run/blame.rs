//! When momentum does not close: which single error explains it best, by everything the test holds.
//!
//! Momentum alone cannot tell a scale of one body from one of the other or from the masses. What tells them apart: both
//! bodies' travels while they move as one, the same speeds in other cameras, and sensors against film.

use super::budget::Budgeted;
use super::channels::Record;
use super::findings::{Balance, balance, common};
use crate::document::AxisEntry;
use filmgauge_motion::{Clue, Culprit, Suspect, culprits, joint};
use filmgauge_quantities::{COVERAGE_95, ViewPlane};
use filmgauge_results::{CrosscheckResult, Finding, Notice, Severity};

/// After the common speed the bodies swing against each other for so long, s.
const SETTLE_S: f64 = 0.040;
/// How well two bodies move as one, as a share of their travel: a c.g. sways on its springs. Common practice, no source.
const SWAY_U: f64 = 0.002;
/// Relative standard uncertainty of a sensor's gain where the dossier does not say: common practice, no source.
const SENSOR_GAIN_U: f64 = 0.015;
/// A channel whose gain lies outside has a fault of another kind.
const USABLE_GAIN: std::ops::Range<f64> = 0.5..2.0;
/// Findings that another camera tells as well: name, and whether of the striking body.
const SHARED: [(&str, bool); 2] = [("contact_speed", true), ("peak_speed", false)];
/// Suspects with less blame than this are not named.
const LEAST_SHARE: f64 = 0.05;

/// A notice, and a caution on the finding, where the momentum does not close.
pub(crate) fn blame(
    cameras: &[Budgeted<'_>],
    (records, checks): (&[Record<'_>], &[CrosscheckResult]),
    findings: &mut [Finding],
) -> Option<Notice> {
    let side = cameras.iter().find(|camera| camera.inputs.camera.view == ViewPlane::Side)?;
    let camera = side.inputs.camera.id.as_str();
    let own = |finding: &Finding| finding.evidence.camera.as_deref() == Some(camera);
    let closure = findings.iter().find(|finding| finding.name == "momentum_closure" && own(finding))?;
    let (value, u) = (closure.value?, closure.uncertainty?);
    if value.abs() <= COVERAGE_95 * u {
        return None;
    }
    let balance = balance(&side.inputs, &side.motion).ok()?;
    let along = records.iter().zip(checks).filter(|(record, _)| record.plan.axis == AxisEntry::X);
    let along: Vec<&CrosscheckResult> = along.map(|(_, check)| check).collect();
    let case = Case::of(side, &balance, &along, findings);
    let ranked = culprits(&case.suspects, &case.clues).ok()?;
    let [striking, struck] = [&balance.striking.id, &balance.struck.id];
    let text = format!(
        "the momentum of {striking} and {struck} does not close: {struck} and the ground received {:+.2} % ± {:.2} % \
         against what {striking} gave. {}",
        100.0 * value,
        100.0 * COVERAGE_95 * u,
        case.words(&ranked)
    );
    for finding in findings.iter_mut().filter(|finding| finding.name == "momentum_closure") {
        finding.caution = Some(case.words(&ranked));
    }
    Some(Notice {
        severity: Severity::Warning,
        place: format!("camera {camera}, {striking} and {struck}"),
        text,
        remedy: "Check what is named first; figures of that body carry the same error".into(),
    })
}

/// Suspects and clues of one test.
struct Case {
    suspects: Vec<Suspect>,
    clues: Vec<Clue>,
    /// Distance from camera to plane, m.
    distance_m: Option<f64>,
}

/// Places in the list of suspects.
const STRIKING: usize = 0;
const STRUCK: usize = 1;
const MASSES: usize = 2;

impl Case {
    fn of(
        side: &Budgeted<'_>,
        balance: &Balance<'_>,
        checks: &[&CrosscheckResult],
        findings: &[Finding],
    ) -> Self {
        let bodies = [balance.striking, balance.struck];
        let scale = |at: usize| Suspect {
            name: format!("scale of {}", bodies[at].id),
            stated_u: side.travel_relative_u(bodies[at]),
        };
        let masses_u = balance.masses.map(|(mass_kg, u_kg)| u_kg / mass_kg);
        let masses = Suspect { name: "ratio of the masses".into(), stated_u: masses_u[0].hypot(masses_u[1]) };
        let distance_m = side.motion.map.distance_m();
        let mut case = Self { suspects: vec![scale(0), scale(1), masses], clues: Vec::new(), distance_m };
        let ids = bodies.map(|body| body.id.as_str());
        let used: Vec<&CrosscheckResult> = checks
            .iter()
            .copied()
            .filter(|check| ids.contains(&check.body.as_str()))
            .filter(|check| check.gain.is_some_and(|gain| USABLE_GAIN.contains(&gain.value)))
            .collect();
        case.suspects.extend(
            used.iter()
                .map(|check| Suspect { name: format!("gain of {}", check.channel), stated_u: SENSOR_GAIN_U }),
        );
        let excess = balance.momentum.excess;
        case.clue("momentum", excess.value, excess.u, &[(STRIKING, -1.0), (STRUCK, 1.0), (MASSES, -1.0)]);
        case.joint_travel(side, balance);
        case.other_cameras(side, findings, ids);
        for (at, check) in used.iter().enumerate() {
            let Some(gain) = check.gain else { continue };
            let body = usize::from(check.body != ids[0]);
            let by = [(body, -1.0), (MASSES + 1 + at, 1.0)];
            case.clue(&format!("film against {}", check.channel), gain.value - 1.0, gain.uncertainty, &by);
        }
        case
    }

    fn clue(&mut self, name: &str, value: f64, u: f64, by: &[(usize, f64)]) {
        let mut all = vec![0.0; self.suspects.len()];
        for &(at, share) in by {
            all[at] = share;
        }
        if u > 0.0 && u.is_finite() && value.is_finite() {
            self.clues.push(Clue { name: name.to_owned(), value, u, by: all });
        }
    }

    /// Travels while both move as one differ by their scales alone.
    fn joint_travel(&mut self, side: &Budgeted<'_>, balance: &Balance<'_>) {
        let Ok(common) = common(&side.motion) else { return };
        let from_s = common.time.value.as_s() + SETTLE_S;
        let (own, other) = (&balance.striking.along, &balance.struck.along);
        let joint = joint(&side.motion.times_s, own, other, (from_s, balance.to_s));
        if let Some(excess) = joint.ok().and_then(|joint| joint.excess) {
            let u = excess.u.hypot(SWAY_U);
            self.clue("travel as one", excess.value, u, &[(STRIKING, 1.0), (STRUCK, -1.0)]);
        }
    }

    /// The same speeds in other cameras.
    fn other_cameras(&mut self, side: &Budgeted<'_>, findings: &[Finding], ids: [&str; 2]) {
        let camera = side.inputs.camera.id.as_str();
        for (name, is_striking) in SHARED {
            let body = usize::from(!is_striking);
            let told = |finding: &&Finding| {
                finding.name == name && finding.subject == ids[body] && finding.evidence.camera.is_some()
            };
            let own = findings.iter().filter(told).find(|it| it.evidence.camera.as_deref() == Some(camera));
            let Some((value, marks)) = own.and_then(|it| Some((it.value?, it.budget.first()?.u))) else {
                continue;
            };
            for other in
                findings.iter().filter(told).filter(|it| it.evidence.camera.as_deref() != Some(camera))
            {
                let (Some(theirs), Some(u)) = (other.value, other.uncertainty) else { continue };
                let label = format!("{name} in another camera");
                self.clue(&label, value / theirs - 1.0, (u / theirs).hypot(marks / value), &[(body, 1.0)]);
            }
        }
    }

    /// The likeliest, in words.
    fn words(&self, ranked: &[Culprit]) -> String {
        let named: Vec<String> = ranked
            .iter()
            .filter(|culprit| culprit.share >= LEAST_SHARE)
            .map(|culprit| self.one(culprit))
            .collect();
        format!("Likeliest: {}", named.join("; "))
    }

    fn one(&self, culprit: &Culprit) -> String {
        let share = format!("{:.0} %", 100.0 * culprit.share);
        let (Some(at), Some(size)) = (culprit.suspect, culprit.size) else {
            return format!("the stated doubts together ({share})");
        };
        let more = if size.value < 0.0 { "too small" } else { "too large" };
        let text = format!(
            "{} {more} by {:.2} % ± {:.2} % ({share})",
            self.suspects[at].name,
            100.0 * size.value.abs(),
            100.0 * COVERAGE_95 * size.u
        );
        match self.distance_m {
            Some(distance_m) if at <= STRUCK => {
                let nearer = if size.value < 0.0 { "farther from" } else { "nearer to" };
                let off_m = size.value.abs() * distance_m;
                format!("{text}, as if its plane lay {off_m:.2} m {nearer} the camera than stated")
            }
            _ => text,
        }
    }
}
