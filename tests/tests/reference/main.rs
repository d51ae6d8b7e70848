//! Checks against outside sources: numpy, scipy and OpenCV in a venv of pinned versions, and published figures.
//!
//! Each module holds one room's work against a script of `tests/reference/` that does the same by other means. A
//! missing interpreter is a failure with advice, never a pass.

mod class_filter;
mod flail;
mod footage_packages;
mod footage_stills;
mod formats;
mod impact;
mod lens;
mod lens_edges;
mod lens_grid;
mod line;
mod marked;
mod peers;
mod pose;
mod python;
mod rendered;
mod scale;
mod smoother;
mod space;
mod spot;
