//! Long work on threads of its own: it tells of its progress, can be stopped, and hands its outcome over when asked.

mod background;
mod calibrating;
mod handing;
mod marking;
mod measuring;
mod spotting;

pub(crate) use background::HowFar;
pub(crate) use calibrating::{Calibrating, Lens, LensInputs, LensJob};
pub(crate) use handing::{Handed, Handing, HandoverJob};
pub(crate) use marking::{Marked, Marking};
pub(crate) use measuring::{Measuring, Outcome};
pub(crate) use spotting::{Found, Spotting};
