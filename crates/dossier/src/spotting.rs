//! Targets found in one frame, each with the surveyed target of a layout that it seems to be.

use crate::DossierError;
use filmgauge_geometry::{LayoutFailure, LayoutFile, LayoutMatch, Seen, match_layout};
use filmgauge_quantities::GreyView;
use filmgauge_targets::{Spot, SpotOptions, spot};
use std::path::Path;

/// A target found in a frame, and which one it seems to be.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedSpot {
    /// What was found.
    pub spot: Spot,
    /// Id of the surveyed target; `None` where it is none of them, or where the layout could not be laid over the frame.
    pub id: Option<String>,
}

/// How a layout lies over a frame, or why it cannot be laid over it.
pub type LayoutFit = Result<LayoutMatch, LayoutFailure>;

/// Targets found in a frame, best score first, and how the layout lies over them.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedSpots {
    /// What was found.
    pub spots: Vec<NamedSpot>,
    /// How the layout lies over the frame.
    pub fit: LayoutFit,
}

/// Reads a layout file; its keys are in `docs/formats.md`.
///
/// # Errors
/// [`DossierError::Io`] when it cannot be read, [`DossierError::Layout`] with file and line when it is not such a file.
pub fn read_layout(path: &Path) -> Result<LayoutFile, DossierError> {
    let text =
        std::fs::read_to_string(path).map_err(|source| DossierError::Io { path: path.to_owned(), source })?;
    LayoutFile::parse(&text, &path.display().to_string()).map_err(DossierError::Layout)
}

/// Finds targets in a frame and suggests which target of the layout each of them is; a person confirms.
///
/// # Errors
/// [`DossierError::Spotting`] or [`DossierError::Layout`] when a setting is out of range. That the layout cannot be laid
/// over the frame is no error: [`NamedSpots::fit`] says why, and the spots are without ids.
pub fn named_spots(
    view: &GreyView,
    options: &SpotOptions,
    layout: &LayoutFile,
) -> Result<NamedSpots, DossierError> {
    layout.options.check().map_err(DossierError::Layout)?;
    let spots = spot(view, options).map_err(DossierError::Spotting)?;
    let seen: Vec<Seen> =
        spots.iter().map(|spot| Seen { place: spot.centre, cov: spot.cov, kind: Some(spot.kind) }).collect();
    let fit = match_layout(&seen, &layout.targets, &layout.options);
    let id = |at: usize| Some(layout.targets[(*fit.as_ref().ok()?.targets.get(at)?)?].id.clone());
    let spots = spots.into_iter().enumerate().map(|(at, spot)| NamedSpot { id: id(at), spot }).collect();
    Ok(NamedSpots { spots, fit })
}
