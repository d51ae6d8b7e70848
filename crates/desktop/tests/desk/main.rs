//! The real application driven by accessible names, as a person with a keyboard or a screen reader would.

mod bad_input;
mod hands;
mod keys;
mod pictures;
mod whole_job;
