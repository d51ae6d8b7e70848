//! What the acceptance tests and the table generators share: rehearsals measured end to end and compared with truth.

pub mod accuracy;
pub mod edits;
pub mod footage_films;
pub mod marked_films;
pub mod peer;
pub mod performance;
pub mod straight_edges;
