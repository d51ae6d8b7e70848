//! Puts files away whole: a reader finds the old file or the new one, never half of one. The one way in which this
//! program writes a file that others read, and names what a file holds.

mod hashed;
mod name;
mod put;

pub use hashed::{hashed, hashed_of};
pub use name::file_name;
pub use put::{make_folder, put, put_with, settle, sync_folder};
