//! Tables of speed beside peers, each made in one run.

pub mod desk;
pub mod follow;
pub mod footage;
pub mod marked;
pub mod motion;
pub mod report;
pub mod sensors;
pub mod spot;
pub mod texture;
