//! The desk: the whole job by eye and hand on one screen. It edits a dossier and calls `dossier::measure`; it computes nothing.
//!
//! The sheet leads: a form down the left, the film with its close-up in the middle, the curves below as the time ruler.
//!
//! # Conventions
//! * What is seen reads a session and asks for changes by commands; only `obey` changes anything.
//! * Places in a picture are stored pixels; (0, 0) is the centre of the top-left one.
//! * Long work runs on threads of its own; the last good results stay on the screen until new ones replace them.
//!
//! A line of the form, an overlay, a group of curves and an act are each one small file in `form`, `film/overlays`,
//! `curves` and `acts`, entered in the list of that folder's `mod.rs`.

mod acts;
mod command;
mod curves;
mod desk;
mod edits;
mod film;
mod form;
mod frame_clock;
mod look;
mod measured;
mod obey;
mod pages;
mod places;
mod session;
mod status;
mod welcome;
mod work;

pub use desk::Desk;
pub use places::Places;
