//! Lines of the dossier that join cameras: in space, and on both sides of a vehicle.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Cameras that together tell places in space. Each rests on `pose` and has a lens; targets that several of them show bear the
/// same id in each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpaceEntry {
    /// Two cameras or more. Times are those of the first; how far the other clocks are off is found from the motion.
    pub cameras: Vec<String>,
}

/// Side cameras on both sides of a vehicle. The mean of what they say is told of its centre plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CentreEntry {
    /// The camera on the left of the path.
    pub left: String,
    /// The one on the right.
    pub right: String,
}
