//! Film against accelerometer: gain, offset and lag of a channel, how well the two agree, and which fault shows.
//!
//! The comparison is made in displacement: the channel is integrated twice with unknown start, start speed,
//! gain, offset and lag, and fitted to the unsmoothed positions from film by weighted least squares. No
//! smoothing and no differentiation of film enters. The method is described in `docs/methods/crosscheck.md`.
//!
//! # Conventions
//! * Vehicle axes: x forward, z up; the angle is pitch, nose up positive; positions are inertial, metres.
//! * The channel reads specific force, so a sensor at rest with z up reads +g (unless it was zeroed at rest).
//! * Reading = gain × truth (t − lag) + offset: a lag above zero means that the channel is late.

pub mod agreement;
mod chain;
mod class;
mod crosscheck;
mod failure;
mod faults;
mod film;
mod fit;
mod found;
mod frames;
mod fused;
mod integrals;
mod noise;
mod one_way;
mod options;
mod outcome;
mod pair;
mod record;
mod shapes;
mod system;
mod verdict;

pub use crosscheck::crosscheck;
pub use failure::CrosscheckFailure;
pub use film::{FilmAtSensor, OtherAxis, SensedAxis};
pub use fused::{FuseOptions, Fused, fuse};
pub use options::CrosscheckOptions;
pub use outcome::{Crosscheck, Explanation, Fault, Measured, Suspected};
pub use pair::{Pair, PairOptions, pair};
