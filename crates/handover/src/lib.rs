//! A test as one archive that opens on another machine, and the proof that its results follow from its inputs.
//!
//! # Conventions
//! * An archive is a zip file: the dossier's folder as it stands, with a manifest of every file's size and BLAKE3 hash.
//! * Footage is included, or stands in the manifest by its hash alone.
//! * The same folder gives the same archive, byte for byte: entries by name, one fixed date.
//! * Proof is the whole chain again by [`filmgauge_dossier::measure`], written by `report` and compared as files; what could
//!   have changed them is told from their provenance.
//! * Whatever takes long tells of its progress and stops when asked; a stop leaves nothing behind.

mod changes;
mod compare;
mod error;
mod manifest;
mod opened;
mod pack;
mod recheck;
mod unpack;

pub use changes::{Change, input_changes, settings_changed};
pub use compare::{Difference, differences};
pub use error::HandoverError;
pub use manifest::{MANIFEST, Manifest, ManifestFile};
pub use pack::{PackOptions, pack, stored_provenance};
pub use recheck::{Recheck, RecheckOptions, recheck};
pub use unpack::{Unpacked, unpack};
