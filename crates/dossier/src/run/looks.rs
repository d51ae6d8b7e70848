//! What one pass over the film reads from every picture besides its targets: brightness for the clock, perforations.

use crate::plan::{CameraPlan, MarksPlan, SpeedEvidence, SteadyPlan, ZeroPlan};
use filmgauge_geometry::FixedMark;
use filmgauge_quantities::GreyView;
use filmgauge_targets::{EdgeBox, EdgeOptions, locate_perforation};
use filmgauge_timing::{Region, region_level};
use serde::{Deserialize, Serialize};

/// Readings of every frame, in order; empty lists where the dossier asks for none.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct Looks {
    /// Level of the flash's region.
    pub(crate) flash: Vec<f64>,
    /// Level of the timing lamp's region.
    pub(crate) lamp: Vec<f64>,
    /// Levels along the film's edge, mean of each row of the region.
    pub(crate) spots: Vec<Vec<f64>>,
    /// Perforations, one list for each frame.
    pub(crate) perforations: Vec<Vec<Option<FixedMark>>>,
}

/// Reads what one camera's clock and steadying need.
#[derive(Debug)]
pub(crate) struct Looker<'a> {
    flash: Option<Region>,
    marks: Option<&'a MarksPlan>,
    perforations: &'a [EdgeBox],
    looks: Looks,
}

impl<'a> Looker<'a> {
    pub(crate) fn new(camera: &'a CameraPlan) -> Self {
        let flash = match camera.zero {
            ZeroPlan::Flash { region, .. } => region,
            _ => None,
        };
        let marks = match &camera.speed.evidence {
            SpeedEvidence::Marks(marks) => Some(marks),
            _ => None,
        };
        let perforations = match &camera.steady {
            Some(SteadyPlan::Perforations(boxes)) => boxes.as_slice(),
            _ => &[],
        };
        Self { flash, marks, perforations, looks: Looks::default() }
    }

    /// The regions that a picture of this size cannot hold, in words.
    pub(crate) fn outside(&self, width: usize, height: usize) -> Option<String> {
        let regions = self.flash.iter().chain(self.marks.map(|marks| &marks.region));
        regions.into_iter().find_map(|region| {
            let fits = region.x + region.width <= width && region.y + region.height <= height;
            (!fits).then(|| {
                format!(
                    "the region [{}, {}, {}, {}] reaches out of the picture of {width} x {height} px",
                    region.x, region.y, region.width, region.height
                )
            })
        })
    }

    /// Reads one picture.
    pub(crate) fn look(&mut self, view: &GreyView<'_>) {
        if let Some(region) = &self.flash {
            self.looks.flash.extend(region_level(view, region));
        }
        if let Some(marks) = self.marks {
            if marks.spots.is_some() {
                self.looks.spots.push(row_levels(view, &marks.region));
            } else {
                self.looks.lamp.extend(region_level(view, &marks.region));
            }
        }
        if !self.perforations.is_empty() {
            let options = EdgeOptions::default();
            let read = |near: &EdgeBox| {
                let hole = locate_perforation(view, near, &options).ok()?;
                Some(FixedMark { point: hole.centre, cov: hole.cov })
            };
            self.looks.perforations.push(self.perforations.iter().map(read).collect());
        }
    }

    pub(crate) fn done(self) -> Looks {
        self.looks
    }
}

/// Mean level of each row of the region, from its top down.
fn row_levels(view: &GreyView<'_>, region: &Region) -> Vec<f64> {
    let rows = region.y..region.y + region.height;
    rows.filter_map(|y| region_level(view, &Region { y, height: 1, ..*region })).collect()
}
