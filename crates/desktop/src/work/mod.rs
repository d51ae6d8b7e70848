//! Long work on threads of its own: it tells of its progress, can be stopped, and hands its outcome over when asked.

mod measuring;
mod spotting;

pub(crate) use measuring::{Measuring, Outcome};
pub(crate) use spotting::{Found, Spotting};
