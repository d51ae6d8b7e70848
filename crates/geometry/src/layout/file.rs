//! The layout file: TOML text to surveyed targets and how their plane is pictured.

use super::{LayoutOptions, Surveyed, ViewModel, XRuns};
use crate::GeometryError;
use filmgauge_quantities::{PlanePoint, TargetKind};
use serde::Deserialize;
use toml::Spanned;

/// What a layout file says.
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutFile {
    /// Targets, in the file's order.
    pub targets: Vec<Surveyed>,
    /// Settings, those that the file does not name at their defaults.
    pub options: LayoutOptions,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    model: Option<Model>,
    x_runs: Option<Runs>,
    roll_deg: Option<Spanned<f64>>,
    uncertainty_m: Option<Spanned<f64>>,
    model_uncertainty_px: Option<Spanned<f64>>,
    #[serde(default)]
    target: Vec<Spanned<Target>>,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum Model {
    Similarity,
    Homography,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum Runs {
    Right,
    Left,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Target {
    id: String,
    kind: Option<TargetKind>,
    m: [f64; 2],
}

impl LayoutFile {
    /// Reads the text of a layout file; its keys are in `docs/formats.md`.
    ///
    /// # Errors
    /// [`GeometryError::LayoutFile`] with `file_name` and line for text that is not such a file.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, GeometryError> {
        let error = |at: usize, why: &str| GeometryError::LayoutFile {
            file: file_name.to_owned(),
            line: text.get(..at).map_or(1, |before| before.matches('\n').count() + 1),
            why: why.to_owned(),
        };
        let document: Document = toml::from_str(text)
            .map_err(|wrong| error(wrong.span().map_or(0, |span| span.start), wrong.message().trim()))?;
        let mut targets: Vec<Surveyed> = Vec::new();
        for spanned in &document.target {
            let (at, target) = (spanned.span().start, spanned.get_ref());
            let [x_m, z_m] = target.m;
            if target.id.trim().is_empty() {
                return Err(error(at, "a target without an id"));
            }
            if targets.iter().any(|other| other.id == target.id) {
                return Err(error(at, &format!("a second target {}", target.id)));
            }
            if !x_m.is_finite() || !z_m.is_finite() {
                return Err(error(at, &format!("{} has no place: m must be two finite numbers", target.id)));
            }
            let surveyed = PlanePoint::new(x_m, z_m);
            if let Some(other) = targets.iter().find(|other| other.at == surveyed) {
                return Err(error(at, &format!("{} lies in the same place as {}", target.id, other.id)));
            }
            if target.kind == Some(TargetKind::Patch) {
                return Err(error(at, &format!("{} is a patch, which is not found by its look", target.id)));
            }
            targets.push(Surveyed { id: target.id.clone(), kind: target.kind, at: surveyed });
        }
        let options = document.options(&error)?;
        Ok(Self { targets, options })
    }
}

impl Document {
    fn options(&self, error: &dyn Fn(usize, &str) -> GeometryError) -> Result<LayoutOptions, GeometryError> {
        let defaults = LayoutOptions::default();
        let number =
            |value: &Option<Spanned<f64>>, default: f64, range: std::ops::RangeInclusive<f64>, rule: &str| {
                match value {
                    Some(value) if !range.contains(value.get_ref()) => Err(error(value.span().start, rule)),
                    Some(value) => Ok(*value.get_ref()),
                    None => Ok(default),
                }
            };
        let above = f64::MIN_POSITIVE;
        let roll = defaults.greatest_roll_rad.to_degrees();
        Ok(LayoutOptions {
            model: match self.model {
                Some(Model::Similarity) => ViewModel::Similarity,
                Some(Model::Homography) | None => ViewModel::Homography,
            },
            x_runs: match self.x_runs {
                Some(Runs::Right) => XRuns::Right,
                Some(Runs::Left) => XRuns::Left,
                None => XRuns::Either,
            },
            greatest_roll_rad: number(&self.roll_deg, roll, 0.0..=180.0, "roll_deg must be 0 to 180")?
                .to_radians(),
            survey_u_m: number(
                &self.uncertainty_m,
                defaults.survey_u_m,
                0.0..=1e3,
                "uncertainty_m must be 0 or more",
            )?,
            model_u_px: number(
                &self.model_uncertainty_px,
                defaults.model_u_px,
                above..=1e3,
                "model_uncertainty_px must be above 0",
            )?,
            ..defaults
        })
    }
}
