//! Occupant figures: how fast a loose occupant would strike the interior and the ridedown after that, the theoretical head
//! impact in a yawing vehicle, and the severity index of its accelerations.
//!
//! The occupant is a free point that keeps the vehicle's speed at contact until it has moved 0.6 m forward or
//! 0.3 m sideways within the compartment; from then on it moves with the vehicle (Michie 1981; NCHRP 230,
//! NCHRP 350, MASH). From accelerometers ([`flail_from_acceleration`]) or from film ([`flail_from_motion`]).
//!
//! # Conventions
//! * Deceleration is positive: an acceleration that takes speed from the vehicle along +x is handed in as > 0.
//! * Times come back on the clock that the caller's times are on.
//! * The flail space leaves yaw out, as in the plain model; the theoretical head impact has it.

mod draws;
mod failure;
mod figures;
mod film;
mod flail;
mod head;
mod limits;
mod means;
mod pulse;
mod severity;

pub use failure::OccupantFailure;
pub use figures::{
    DoubtedValue, FigureOptions, OccupantFigure, SevereAxis, SevereRecord, figures_by_draws, occupant_figures,
};
pub use film::flail_from_motion;
pub use flail::{Axis, FlailOptions, FlailSpace, flail_from_acceleration};
pub use head::{HeadImpact, HeadOptions, YawingRecord, head_impact};
pub use limits::{LIMITS_CAUTION, LimitedAxis, LimitedFigure, OccupantLimit, occupant_limits};
pub use severity::{LIMITS_G as SEVERITY_LIMITS_G, SeverityIndex, SeverityRule, severity_index};
