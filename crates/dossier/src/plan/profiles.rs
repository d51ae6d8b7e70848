//! Plans crush profiles: six depths by hand, or six crush lines.

use super::bodies::known_body;
use super::{names, within};
use crate::document::ProfileEntry;
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_motion::{CrushDoubt, Stiffness};
use filmgauge_quantities::BodyId;

/// One crush profile.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfilePlan {
    /// Name of the profile.
    pub id: String,
    /// Body that it belongs to.
    pub body: BodyId,
    /// Damage width, m.
    pub width_m: f64,
    /// Where the depths come from.
    pub depths: DepthsPlan,
    /// Rows of free space, m.
    pub free_space_m: Vec<[f64; 6]>,
    /// Standard uncertainties; that of a depth is of those by hand.
    pub doubt: CrushDoubt,
    /// Stiffness and its relative standard uncertainty.
    pub stiffness: Option<(Stiffness, f64)>,
    /// Angle between the force and the normal of the face, rad.
    pub force_angle_rad: f64,
}

/// Where six depths come from.
#[derive(Debug, Clone, PartialEq)]
pub enum DepthsPlan {
    /// Measured by hand, m.
    Hand([f64; 6]),
    /// The final shortening of these crush lines.
    Lines([String; 6]),
}

pub(super) fn plan_profiles(dossier: &Dossier) -> Result<Vec<ProfilePlan>, DossierError> {
    let mut plans: Vec<ProfilePlan> = Vec::new();
    for (index, entry) in dossier.document.crush_profile.iter().enumerate() {
        if entry.id.trim().is_empty() || plans.iter().any(|plan| plan.id == entry.id) {
            let path = [Key("crush_profile"), Item(index), Key("id")];
            let what = format!("crush profile \"{}\" has no name of its own", entry.id);
            return Err(dossier.fault(&path, what, "Give each crush profile its own name".into()));
        }
        plans.push(plan_profile(dossier, index, entry)?);
    }
    Ok(plans)
}

fn plan_profile(dossier: &Dossier, index: usize, entry: &ProfileEntry) -> Result<ProfilePlan, DossierError> {
    let at = |key| [Key("crush_profile"), Item(index), Key(key)];
    within(dossier, &at("width_m"), entry.width_m, 0.01, 100.0)?;
    for (key, value) in [
        ("width_uncertainty_m", entry.width_uncertainty_m),
        ("uncertainty_m", entry.uncertainty_m),
        ("reference_uncertainty_m", entry.reference_uncertainty_m),
    ] {
        within(dossier, &at(key), value, 0.0, 10.0)?;
    }
    for depth_m in entry.depths_m.iter().flatten() {
        within(dossier, &at("depths_m"), *depth_m, -10.0, 10.0)?;
    }
    for depth_m in entry.free_space_m.iter().flatten() {
        within(dossier, &at("free_space_m"), *depth_m, -10.0, 10.0)?;
    }
    within(dossier, &at("force_angle_deg"), entry.force_angle_deg, -80.0, 80.0)?;
    let stiffness = entry.stiffness.map(|it| {
        within(dossier, &at("stiffness"), it.a_n_per_m, 0.0, 1e9)?;
        within(dossier, &at("stiffness"), it.b_n_per_m2, 1.0, 1e12)?;
        within(dossier, &at("stiffness"), it.relative_uncertainty, 0.0, 10.0)?;
        Ok::<_, DossierError>((
            Stiffness { a_n_per_m: it.a_n_per_m, b_n_per_m2: it.b_n_per_m2 },
            it.relative_uncertainty,
        ))
    });
    Ok(ProfilePlan {
        id: entry.id.clone(),
        body: known_body(dossier, &at("body"), &entry.body)?,
        width_m: entry.width_m,
        depths: depths(dossier, index, entry)?,
        free_space_m: entry.free_space_m.clone(),
        doubt: CrushDoubt {
            depth_m: entry.uncertainty_m,
            reference_m: entry.reference_uncertainty_m,
            width_m: entry.width_uncertainty_m,
        },
        stiffness: stiffness.transpose()?,
        force_angle_rad: entry.force_angle_deg.to_radians(),
    })
}

fn depths(dossier: &Dossier, index: usize, entry: &ProfileEntry) -> Result<DepthsPlan, DossierError> {
    let at = |key| [Key("crush_profile"), Item(index), Key(key)];
    match (&entry.depths_m, &entry.lines) {
        (Some(depths_m), None) => Ok(DepthsPlan::Hand(*depths_m)),
        (None, Some(lines)) => {
            let unknown = lines.iter().find(|line| !dossier.document.crush.iter().any(|it| it.id == **line));
            let Some(line) = unknown else { return Ok(DepthsPlan::Lines(lines.clone())) };
            let there = names(dossier.document.crush.iter().map(|it| it.id.as_str()));
            let what =
                format!("crush profile {} names crush line \"{line}\", which does not exist", entry.id);
            Err(dossier.fault(&at("lines"), what, format!("Name a [[crush]] line ({there})")))
        }
        _ => {
            let what = format!("crush profile {} needs depths_m or lines, and not both", entry.id);
            let remedy = "Give the six depths measured by hand, or the six crush lines of the film".into();
            Err(dossier.fault(&at("id"), what, remedy))
        }
    }
}
