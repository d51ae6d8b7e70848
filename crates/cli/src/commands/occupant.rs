//! `occupant`: severity figures from channel files alone, each with its ± and the limits that go with it.

use crate::exit::Exit;
use filmgauge_dossier::document::Axes;
use filmgauge_dossier::{OccupantRequest, RunOptions, occupant_from_channels};
use filmgauge_report::{CAUTIONS, findings_table};
use filmgauge_results::{Finding, UnitSystem};
use std::io::Write;
use std::path::PathBuf;

/// What was typed.
pub(super) struct Wanted<'a> {
    pub(super) files: &'a [PathBuf],
    pub(super) forward: Option<&'a str>,
    pub(super) sideways: Option<&'a str>,
    pub(super) upright: Option<&'a str>,
    pub(super) yaw: Option<&'a str>,
    pub(super) pitch: Option<&'a str>,
    pub(super) sae: bool,
    pub(super) contact_s: [f64; 2],
    pub(super) calibration: f64,
}

pub(super) fn occupant(wanted: &Wanted<'_>, json: bool, out: &mut dyn Write) -> anyhow::Result<Exit> {
    let code = |code: Option<&str>| code.map(str::to_owned);
    let request = OccupantRequest {
        files: wanted.files.to_vec(),
        forward: code(wanted.forward),
        sideways: code(wanted.sideways),
        upright: code(wanted.upright),
        yaw: code(wanted.yaw),
        pitch: code(wanted.pitch),
        axes: if wanted.sae { Axes::SaeJ1733 } else { Axes::Iso8855 },
        contact_s: wanted.contact_s,
        calibration_u: wanted.calibration,
    };
    let findings = occupant_from_channels(&request, &RunOptions::default())?;
    let asks = findings.iter().any(|finding| finding.reason.is_some());
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&findings)?)?;
        return Ok(Exit::person_if(asks));
    }
    write!(out, "{}", findings_table(&findings, UnitSystem::Si))?;
    writeln!(out)?;
    for caution in cautions(&findings) {
        writeln!(out, "{caution}")?;
    }
    for caution in CAUTIONS {
        writeln!(out, "{caution}")?;
    }
    Ok(Exit::person_if(asks))
}

/// Each different caution once, with the figures that it goes with.
fn cautions(findings: &[Finding]) -> Vec<String> {
    let mut told: Vec<(String, Vec<&str>)> = Vec::new();
    for finding in findings {
        let Some(caution) = &finding.caution else { continue };
        match told.iter_mut().find(|(text, _)| text == caution) {
            Some((_, names)) => names.push(&finding.name),
            None => told.push((caution.clone(), vec![&finding.name])),
        }
    }
    told.into_iter().map(|(text, names)| format!("{}: {text}", names.join(", "))).collect()
}
