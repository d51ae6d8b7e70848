//! Natural texture as a target: a patch of the picture is found again to a few thousandths of a pixel, moved, turned,
//! grown and slanted. Method, error budget and papers: `docs/methods/texture.md`.
//!
//! Every frame is matched with the same template; nothing is chained, so nothing drifts.

mod average;
mod basis;
mod columns;
mod correlate;
mod failure;
mod fit;
mod grid;
mod ground;
mod mask;
mod options;
mod outline;
mod place;
mod sample;
mod search;
mod template;
mod weigh;

pub use average::RenewOptions;
pub use failure::TextureFailure;
pub use fit::{TextureMatch, match_texture, match_texture_masked};
pub use grid::PatchSize;
pub use options::{Interpolation, MatchOptions, TextureOptions, Warp};
pub use place::{PatchShape, TexturePlace};
pub use search::{SearchGate, TextureFound, search};
pub use template::Texture;

#[cfg(test)]
mod tests;
