//! The hash that tells whether two readings gave the same picture.

use filmgauge_quantities::{GreyPixels, GreyView};
use serde::Serializer;

/// BLAKE3 of width, height (64 bits each), bits (8 bits) and the samples row by row, all low byte first.
pub(crate) fn picture_hash(view: &GreyView<'_>) -> [u8; 32] {
    let mut hasher = blake3::Hasher::new();
    hasher.update(&(view.width() as u64).to_le_bytes());
    hasher.update(&(view.height() as u64).to_le_bytes());
    hasher.update(&[view.bits()]);
    match view.pixels() {
        GreyPixels::Eight(samples) => {
            for row in samples.chunks(view.stride()).take(view.height()) {
                hasher.update(&row[..view.width()]);
            }
        }
        GreyPixels::Sixteen(samples) => {
            let mut bytes = Vec::with_capacity(2 * view.width());
            for row in samples.chunks(view.stride()).take(view.height()) {
                bytes.clear();
                bytes.extend(row[..view.width()].iter().flat_map(|level| level.to_le_bytes()));
                hasher.update(&bytes);
            }
        }
    }
    *hasher.finalize().as_bytes()
}

/// For tables that people and programs read.
pub(crate) fn as_hex<S: Serializer>(hash: &[u8; 32], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(blake3::Hash::from_bytes(*hash).to_hex().as_str())
}
