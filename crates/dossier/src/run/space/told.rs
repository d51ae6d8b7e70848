//! What the sheet says of cameras joined in space: summary, notices, rows and findings.

use super::{Space, answer};
use crate::plan::SpacePlan;
use crate::run::budget::Budgeted;
use crate::run::space::body::SpaceBody;
use filmgauge_results::{CameraSummary, Finding, MotionRow, Notice, Severity};

/// Residuals this many times their doubt ask for a person.
const MISFIT: f64 = 1.5;

impl Space<'_> {
    /// The cameras' names, joined: what stands for the camera of rows and findings.
    pub(crate) fn id(&self) -> String {
        let ids: Vec<&str> = self.cameras.iter().map(|camera| camera.inputs.camera.id.as_str()).collect();
        ids.join("+")
    }

    /// What the sheet says of it.
    pub(crate) fn summary(&self) -> CameraSummary {
        let mut lines = vec![
            ("Targets seen by two or more".to_owned(), self.targets.join(", ")),
            (
                "Residuals over their doubt".to_owned(),
                format!("{:.2} (1 or less: none left over)", self.bundle_factor),
            ),
        ];
        for (camera, offset) in self.cameras.iter().zip(&self.offsets).skip(1) {
            let text = format!(
                "reads {:+.4} ± {:.4} ms more than that of {}",
                offset.value.as_s() * 1e3,
                filmgauge_quantities::COVERAGE_95 * offset.u.as_s() * 1e3,
                self.cameras[0].inputs.camera.id
            );
            lines.push((format!("Clock of {}", camera.inputs.camera.id), text));
        }
        for body in &self.bodies {
            let (chi2, n_spare) = body.misfit;
            #[expect(clippy::cast_precision_loss, reason = "a count of coordinates")]
            let ratio = (chi2 / n_spare.max(1) as f64).sqrt();
            let text = format!(
                "{} targets, told of their mean; marks off the rigid body {ratio:.2} times their doubt",
                body.n_targets
            );
            lines.push((format!("Body {}", body.id), text));
        }
        CameraSummary { id: self.id(), view: "space".into(), lines }
    }

    /// Bodies that could not be told, and residuals that are too large.
    pub(crate) fn notices(&self) -> Vec<Notice> {
        let place = format!("cameras {}", self.id());
        let failed = self.troubles.iter().map(|(body, why)| Notice {
            severity: Severity::Warning,
            place: format!("{place}, {body}"),
            text: why.clone(),
            remedy: "Follow more targets in both cameras, with the same ids".into(),
        });
        let mut notices: Vec<Notice> = failed.collect();
        if self.bundle_factor > MISFIT {
            notices.push(Notice {
                severity: Severity::Person,
                place,
                text: format!(
                    "lines of sight miss each other {:.1} times as far as their doubt allows",
                    self.bundle_factor
                ),
                remedy: "Check poses, film speeds, and which target is which".into(),
            });
        }
        notices
    }

    /// Motion rows of all bodies.
    pub(crate) fn rows(&self) -> Vec<MotionRow> {
        let id = self.id();
        self.bodies
            .iter()
            .enumerate()
            .flat_map(|(index, body)| answer::rows(&id, body, &self.moved, index))
            .collect()
    }

    /// Findings of all bodies, and the offsets of the clocks.
    pub(crate) fn findings(&self) -> Vec<Finding> {
        let first = self.cameras[0];
        let (id, contact_s) = (self.id(), first.motion.contact_s());
        let of_body =
            |(index, body): (usize, &SpaceBody)| answer::findings(&id, body, &self.moved, index, contact_s);
        let mut found: Vec<Finding> = self.bodies.iter().enumerate().flat_map(of_body).collect();
        let clocks = self.cameras.iter().zip(&self.offsets).skip(1);
        found.extend(
            clocks.map(|(camera, offset)| answer::clock(&id, camera.inputs.camera.id.as_str(), offset)),
        );
        found
    }
}

/// The notice where nothing could be told.
pub(crate) fn failed(plan: &SpacePlan, all: &[Budgeted<'_>], why: &str) -> Notice {
    let ids: Vec<&str> = plan.cameras.iter().map(|&place| all[place].inputs.camera.id.as_str()).collect();
    Notice {
        severity: Severity::Person,
        place: format!("cameras {}", ids.join("+")),
        text: format!("nothing in space: {why}"),
        remedy: "Mend what is named, or take space out of the dossier".into(),
    }
}
