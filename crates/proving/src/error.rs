//! What can go wrong in a rehearsal, by who must act.

/// Why a rehearsal cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum ProvingError {
    /// The scene file could not be read.
    #[error("cannot read the scene {path}: {source}; check the path and its permissions")]
    Io {
        /// File as given.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The scene is not TOML of the published shape.
    #[error("the scene {path} does not parse: {text}")]
    Parse {
        /// File as given, or a name for text from memory.
        path: String,
        /// Line, column and reason.
        text: String,
    },
    /// A value of the scene is outside its range or contradicts another.
    #[error("scene: {place} {problem}")]
    Scene {
        /// Key or item, such as `camera "side"`.
        place: String,
        /// What is wrong and what would be right.
        problem: String,
    },
    /// The equations of motion did not reach the end of the film.
    #[error(
        "the motion changes state more than {limit} times before {t_s:.4} s after contact; soften the cushion or the front"
    )]
    Restless {
        /// Changes allowed.
        limit: usize,
        /// Seconds after contact.
        t_s: f64,
    },
    /// The camera number is not in the scene.
    #[error("the scene has {n_cameras} cameras; there is no camera number {index}")]
    NoCamera {
        /// Number asked for, from 0.
        index: usize,
        /// Cameras in the scene.
        n_cameras: usize,
    },
    /// The lens folds back inside the picture.
    #[error("camera \"{camera}\": {source}; reduce the distortion or the picture")]
    Lens {
        /// Camera id.
        camera: String,
        /// What the lens model said.
        source: filmgauge_geometry::GeometryError,
    },
}

impl ProvingError {
    /// A complaint about one place of the scene.
    pub(crate) fn scene(place: impl Into<String>, problem: impl Into<String>) -> Self {
        Self::Scene { place: place.into(), problem: problem.into() }
    }
}
