//! Film speed, time zero and common clock against closed forms, published values and seeded simulations.

mod checks;
mod coverage;
mod refusals;
mod simulation;
