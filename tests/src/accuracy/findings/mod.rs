//! Findings over many rehearsals whose marks are simulated: truth and noise go into the same chain, without pictures.

mod chain;
mod page;
mod scenes;
mod truth;

pub use chain::{Blank, Simulated, simulated};
pub use page::{page, runs};
pub use scenes::{Kind, leaving, varied};
pub use truth::true_values;
