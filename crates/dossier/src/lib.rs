//! The dossier: its form, the plan made of it, and [`measure`], the one run that every skin calls.
//!
//! `dossier.toml` → [`Dossier`] → [`Plan`] (checked) → films → motion → findings with budgets → [`Results`].
//!
//! [`Results`]: filmgauge_results::Results
//!
//! # Conventions
//! * Results are a pure function of the dossier, its files, the options and the version; threads do not matter.
//! * Originals are opened for reading only; this crate writes nothing.
//! * Trouble that a person can live with becomes a notice or a finding with a reason; only what makes the whole
//!   measurement meaningless is an error.

mod blank;
pub mod document;
mod dropped;
mod error;
pub mod lens;
mod lines;
mod load;
mod missing;
mod occupant;
mod options;
mod picks;
pub mod plan;
mod run;
mod spotting;
mod watch;
mod watched;

pub use blank::new_dossier_text;
pub use document::Document;
pub use error::DossierError;
pub use load::{Dossier, stated_schema};
pub use missing::{Missing, missing};
pub use occupant::{OccupantRequest, occupant_from_channels};
pub use options::{FindingOptions, KeepPasses, RunOptions};
pub use plan::Plan;
pub use run::{coding_u_px, measure, stated};
pub use spotting::{LayoutFit, NamedSpot, NamedSpots, named_spots, read_layout};
pub use watch::{LiveMark, Progress, Unwatched, Watch};
pub use watched::Watched;
