//! The real application driven by accessible names, as a person with a keyboard or a screen reader would.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod bad_input;
mod handover;
mod hands;
mod keys;
mod lens;
mod marked;
mod naming;
mod pictures;
mod placing;
mod profile;
mod whole_job;
