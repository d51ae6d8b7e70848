//! Rehearsals: rendered impact tests whose truth is known exactly.
//!
//! A [`Scene`] describes vehicles, cameras, targets and sensors. [`simulate`] solves the equations of motion; the
//! [`Renderer`] makes pictures of them, [`truth_marks`] says where every target's centre really is, [`channels`]
//! makes the accelerometer records, and [`dossier_toml`] and [`lens_toml`] write what the analyst would know, with
//! reading errors of the stated size. It encodes no video and writes no file.
//!
//! # Conventions
//! * World: x along the path, 0 at the cushion's face at contact; y to the left; z up from the ground; metres.
//! * Time: seconds from time zero, which is the flash; contact comes `flash.delay_s` earlier.
//! * Pitch: nose up positive. Pixels: stored pixels, (0, 0) at the centre of the top-left one.
//! * Every draw comes from the scene's seed by purpose: same scene, same bytes, for any number of threads.

mod channels;
mod clock;
mod clock_scene;
mod dossier;
mod drawn;
mod dynamics;
mod error;
mod film_truth;
mod flaws;
mod lamp;
mod marks;
mod placing;
mod proof;
mod random;
mod render;
mod scene;
mod summary;
mod swing;
mod view;
mod weave;

pub use channels::{RecordedChannel, channels};
pub use clock_scene::{ClockFilm, clock_film, clock_scene};
pub use dossier::{dossier_toml, lens_toml};
pub use dynamics::{BodyInstant, Instant, Truth, simulate};
pub use error::ProvingError;
pub use film_truth::{FilmTruth, FrameTruth, film_truth, film_truth_json};
pub use flaws::Flaw;
pub use lamp::LampPulse;
pub use marks::{TruthMark, truth_marks};
pub use proof::proof_scene;
pub use render::Renderer;
pub use scene::{
    Aside, BoardSetup, BodyName, CameraSetup, Car, ChannelSetup, ClockSetting, Cushion, DiscPaint, Dust,
    Fault, FieldOrder, FilmRun, Flash, Front, Lamp, LensDoubt, Occluder, Paint, Perforation, Picture,
    ScanFlaws, Scene, SensedAxis, ShakeSetup, TargetPaint, Tether, Truck, WeaveSetup,
};
pub use summary::{PlantedFault, TruthSummary, truth_json, truth_summary};
