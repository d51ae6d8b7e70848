//! The scene: everything that a rehearsal is made from, read from TOML.

mod camera;
mod check;
mod film;
mod film_check;
mod paint;
mod sensor;
mod vehicle;

pub use camera::{BoardSetup, CameraSetup, Flash, LensDoubt, Picture};
pub use film::{ClockSetting, FieldOrder, FilmRun, Lamp, Perforation, ScanFlaws, ShakeSetup, WeaveSetup};
pub use paint::{BodyName, DiscPaint, Dust, Occluder, Paint, TargetPaint};
pub use sensor::{ChannelSetup, Fault, SensedAxis};
pub use vehicle::{Aside, Car, Cushion, Front, Tether, Truck};

use crate::ProvingError;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Everything that a rehearsal is made from. Lengths in metres, times in seconds, angles as their names say.
///
/// World axes: x along the path with 0 at the cushion's face at contact, y to the left, z up from the ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scene {
    /// Test id; also the stem of the exchange files.
    pub id: String,
    /// Title of the test.
    pub title: String,
    /// Seed of every draw: frame phase, noise, reading errors.
    #[serde(default = "default_seed")]
    pub seed: u64,
    /// Film before contact, s.
    pub before_s: f64,
    /// Film after contact, s.
    pub after_s: f64,
    /// Side-camera target whose rise is reported; the car's c.g. when absent.
    #[serde(default)]
    pub climb_point: Option<String>,
    /// The striking car.
    pub car: Car,
    /// The car's front; absent for a front that does not crush.
    #[serde(default)]
    pub front: Option<Front>,
    /// The cushion on the truck's rear.
    pub cushion: Cushion,
    /// The struck truck.
    pub truck: Truck,
    /// The flash that marks time zero.
    #[serde(default)]
    pub flash: Flash,
    /// The cameras.
    #[serde(default, rename = "camera")]
    pub cameras: Vec<CameraSetup>,
    /// What the bodies look like, painted in order.
    #[serde(default, rename = "paint")]
    pub paints: Vec<Paint>,
    /// The targets.
    #[serde(default, rename = "target")]
    pub targets: Vec<TargetPaint>,
    /// Puffs of dust.
    #[serde(default)]
    pub dust: Vec<Dust>,
    /// Things that stand between camera and vehicles.
    #[serde(default, rename = "occluder")]
    pub occluders: Vec<Occluder>,
    /// The accelerometer channels.
    #[serde(default, rename = "channel")]
    pub channels: Vec<ChannelSetup>,
}

fn default_seed() -> u64 {
    1
}

impl Scene {
    /// Reads and checks a scene file.
    ///
    /// # Errors
    /// [`ProvingError::Io`], [`ProvingError::Parse`] or [`ProvingError::Scene`].
    pub fn read(path: &Path) -> Result<Self, ProvingError> {
        let shown = path.display().to_string();
        let text = std::fs::read_to_string(path)
            .map_err(|source| ProvingError::Io { path: shown.clone(), source })?;
        Self::parsed(&text, &shown)
    }

    /// Reads and checks a scene from text.
    ///
    /// # Errors
    /// [`ProvingError::Parse`] or [`ProvingError::Scene`].
    pub fn from_toml(text: &str) -> Result<Self, ProvingError> {
        Self::parsed(text, "scene text")
    }

    /// Whether every value is in its range and every name refers to something.
    ///
    /// # Errors
    /// [`ProvingError::Scene`] for the first value that is not.
    pub fn check(&self) -> Result<(), ProvingError> {
        check::scene(self)
    }

    /// One camera by its number.
    pub(crate) fn camera(&self, index: usize) -> Result<&CameraSetup, ProvingError> {
        let n_cameras = self.cameras.len();
        self.cameras.get(index).ok_or(ProvingError::NoCamera { index, n_cameras })
    }

    /// The targets of one camera, in the scene's order.
    pub(crate) fn targets_of(&self, camera_id: &str) -> impl Iterator<Item = &TargetPaint> {
        self.targets.iter().filter(move |target| target.camera == camera_id)
    }

    fn parsed(text: &str, path: &str) -> Result<Self, ProvingError> {
        let scene: Self = toml::from_str(text)
            .map_err(|fault| ProvingError::Parse { path: path.to_owned(), text: fault.to_string() })?;
        scene.check()?;
        Ok(scene)
    }
}
