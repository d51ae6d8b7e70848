//! Plans channels: file, code, sensed axis, carrying body.

use super::bodies::known_body;
use super::within;
use crate::document::{AxisEntry, StepEntry};
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_quantities::{BodyId, PlanePoint};
use filmgauge_sensors::ChannelCode;

/// One channel.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelPlan {
    /// File as written in the dossier.
    pub file: String,
    /// Channel code, or column header.
    pub code: String,
    /// Sensed axis.
    pub axis: AxisEntry,
    /// Unit, where the dossier gives it.
    pub unit: Option<String>,
    /// Body that carries the sensor.
    pub body: BodyId,
    /// Place from the c.g.: forward, up.
    pub at: PlanePoint,
    /// Steps left out.
    pub without: Vec<StepEntry>,
}

impl ChannelPlan {
    /// Whether a step is applied.
    pub(crate) fn takes(&self, step: StepEntry) -> bool {
        !self.without.contains(&step)
    }
}

pub(super) fn plan_channels(dossier: &Dossier) -> Result<Vec<ChannelPlan>, DossierError> {
    let mut channels = Vec::new();
    for (index, entry) in dossier.document.channel.iter().enumerate() {
        let at = |key| [Key("channel"), Item(index), Key(key)];
        if !dossier.root.join(&entry.file).is_file() {
            let what = format!("channel file {} does not exist", entry.file);
            return Err(dossier.fault(&at("file"), what, "Put the file there or mend the path".into()));
        }
        for step_m in entry.at_m {
            within(dossier, &at("at_m"), step_m, -100.0, 100.0)?;
        }
        let Some(axis) = entry.axis.or_else(|| axis_of(&entry.code)) else {
            let what = format!("channel {} does not say which axis it senses", entry.code);
            return Err(dossier.fault(&at("code"), what, "Add axis = \"x\", \"y\" or \"z\"".into()));
        };
        channels.push(ChannelPlan {
            file: entry.file.clone(),
            code: entry.code.clone(),
            axis,
            unit: entry.unit.clone(),
            body: known_body(dossier, &at("body"), &entry.body)?,
            at: PlanePoint::new(entry.at_m[0], entry.at_m[1]),
            without: entry.without.clone(),
        });
    }
    Ok(channels)
}

fn axis_of(code: &str) -> Option<AxisEntry> {
    match ChannelCode::parse(code).ok()?.direction {
        'X' => Some(AxisEntry::X),
        'Y' => Some(AxisEntry::Y),
        'Z' => Some(AxisEntry::Z),
        _ => None,
    }
}
