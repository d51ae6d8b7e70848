//! The working copy: grey levels of the regions of interest, raw, beside the results. Never needed, may be deleted.

mod layout;
mod reading;
mod writing;

pub use layout::Region;
pub use reading::WorkingCopy;
pub use writing::working_copy;
