//! The plan: a dossier checked as a whole and turned into typed inputs, before any footage is opened.

mod bodies;
mod cameras;
mod channels;
mod clocks;
mod depth;
mod instants;
mod profiles;
mod reference;
mod space;
mod targets;

pub use bodies::{BodyPlan, CrushPlan};
pub use cameras::CameraPlan;
pub use channels::ChannelPlan;
pub use clocks::{MarksPlan, SpeedEvidence, SpeedPlan, SpotsPlan, SteadyPlan, ZeroPlan};
pub use instants::GapPlan;
pub use profiles::{DepthsPlan, ProfilePlan};
pub use reference::ReferencePlan;
pub use space::{CentrePlan, SpacePlan};
pub use targets::TargetPlan;
pub(crate) use targets::UNKNOWN_OFFSET_U_M;

use crate::error::DossierError;
use crate::lines::Step;
use crate::load::Dossier;
use filmgauge_quantities::{BodyId, CameraId, TargetId};

/// Everything a run needs, checked: every name that is used exists, every figure lies in its range.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Cameras in the dossier's order, each with its targets.
    pub cameras: Vec<CameraPlan>,
    /// Bodies in the dossier's order.
    pub bodies: Vec<BodyPlan>,
    /// Crush lines.
    pub crush: Vec<CrushPlan>,
    /// Crush profiles.
    pub profiles: Vec<ProfilePlan>,
    /// Channels.
    pub channels: Vec<ChannelPlan>,
    /// Target whose rise is reported; the striking body's own point when `None`.
    pub climb_point: Option<TargetId>,
    /// Cameras that together tell places in space.
    pub space: Option<SpacePlan>,
    /// Side cameras on both sides of a vehicle.
    pub centre: Option<CentrePlan>,
}

impl Plan {
    /// The plan of a dossier.
    ///
    /// # Errors
    /// [`DossierError::Document`] names the first line that cannot be used, and what to do.
    pub fn of(dossier: &Dossier) -> Result<Self, DossierError> {
        if dossier.document.test.id.trim().is_empty() {
            let path = [Step::Key("test"), Step::Key("id")];
            return Err(dossier.fault(&path, "the test has no id".into(), "Give it a short id".into()));
        }
        let bodies = bodies::plan_bodies(dossier)?;
        let crush = bodies::plan_crush(dossier)?;
        let profiles = profiles::plan_profiles(dossier)?;
        let cameras = cameras::plan_cameras(dossier)?;
        let channels = channels::plan_channels(dossier)?;
        bodies::check_cg(dossier)?;
        clocks::check_ties(dossier)?;
        if let Some(switch) = &dossier.document.test.switch {
            clocks::check_switch(dossier, switch)?;
        }
        instants::check_events(dossier)?;
        let climb_point = targets::plan_climb_point(dossier)?;
        let space = space::plan_space(dossier, &cameras)?;
        let centre = space::plan_centre(dossier, &cameras)?;
        Ok(Self { cameras, bodies, crush, profiles, channels, climb_point, space, centre })
    }

    /// The body with this id; the plan holds every body that is named anywhere.
    #[must_use]
    pub fn body(&self, id: &BodyId) -> Option<&BodyPlan> {
        self.bodies.iter().find(|body| body.id == *id)
    }

    /// The camera with this id.
    #[must_use]
    pub fn camera(&self, id: &CameraId) -> Option<&CameraPlan> {
        self.cameras.iter().find(|camera| camera.id == *id)
    }
}

/// Turns the text of an id key into an id, or says where it cannot be one.
fn id<T, E: std::fmt::Display>(
    dossier: &Dossier,
    path: &[Step<'_>],
    made: Result<T, E>,
) -> Result<T, DossierError> {
    made.map_err(|error| dossier.fault(path, error.to_string(), "Choose another name".into()))
}

/// Refuses a number that is not finite or lies outside [least, greatest].
fn within(
    dossier: &Dossier,
    path: &[Step<'_>],
    value: f64,
    least: f64,
    greatest: f64,
) -> Result<f64, DossierError> {
    if value.is_finite() && value >= least && value <= greatest {
        return Ok(value);
    }
    let key = path
        .iter()
        .rev()
        .find_map(|step| match step {
            Step::Key(key) => Some(*key),
            Step::Item(_) => None,
        })
        .unwrap_or("value");
    Err(dossier.fault(
        path,
        format!("{key} = {value} cannot be used"),
        format!("Give a number from {least} to {greatest}"),
    ))
}

/// The names there are, for a message about one that does not exist.
fn names<'a>(list: impl Iterator<Item = &'a str>) -> String {
    let joined = list.collect::<Vec<_>>().join(", ");
    if joined.is_empty() { "there are none".into() } else { format!("there are: {joined}") }
}
