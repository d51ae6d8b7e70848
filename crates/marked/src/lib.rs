//! Marked films and stills of a measured dossier. Footage is read as in measuring, in order and proved by the frame index;
//! `report` draws each frame; `footage` writes. Nothing is measured or computed here.
//!
//! # Conventions
//! * Picture k of a marked film is frame `first + k` of the footage: every frame once, none dropped or repeated.
//! * Only results that follow from the files as they are now are drawn.
//! * A film is coded in pieces kept beside it; one that was stopped goes on from there, and the result is the same byte for
//!   byte. Only a whole film gets its name.
//! * Same dossier, options and version, same bytes, for any number of threads.

mod error;
mod film;
mod key;
mod options;
mod pass;
mod prepared;
mod stills;

pub use error::MarkedError;
pub use film::{MarkedMade, marked_film};
pub use options::{MarkedOptions, StillFrames};
pub use stills::marked_stills;
