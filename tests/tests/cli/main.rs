//! The command line as a person meets it: good input, bad input, exit codes, and messages that say what to do.

mod channels;
mod dossiers;
mod exports;
mod filling;
mod films;
mod form;
mod handover;
mod lens;
mod marked;
mod rehearsal;
mod resuming;
mod scale;
mod sensors;
mod space;
mod verbs;
mod watching;
