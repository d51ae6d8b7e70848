//! The picture strip: each camera's frame nearest to each named instant, from a second look at the footage.

use super::clock::Clock;
use super::film::Film;
use crate::error::DossierError;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::CameraPlan;
use crate::watch::Watch;
use filmgauge_results::StripPicture;
use filmgauge_targets::Outcome;
use std::collections::BTreeMap;

/// What the strip of one camera needs.
pub(crate) struct StripInputs<'a> {
    pub(crate) dossier: &'a Dossier,
    pub(crate) camera: &'a CameraPlan,
    pub(crate) film: &'a Film,
    pub(crate) clock: &'a Clock,
    pub(crate) contact_s: f64,
    pub(crate) metres_per_px: f64,
}

/// Pictures of one camera in order of time. Instants outside the film are left out.
pub(crate) fn strip(
    inputs: &StripInputs<'_>,
    options: &RunOptions,
    watch: &dyn Watch,
) -> Result<Vec<StripPicture>, DossierError> {
    let wanted = wanted_frames(inputs);
    let Some(&last) = wanted.keys().next_back() else { return Ok(Vec::new()) };
    let in_footage = |source| DossierError::Footage { camera: inputs.camera.id.to_string(), source };
    let read = filmgauge_footage::ReadOptions { fields: inputs.camera.fields, ..options.read.clone() };
    let mut reader =
        filmgauge_footage::open(&inputs.dossier.root, &inputs.camera.footage, &read).map_err(in_footage)?;
    let mut pictures = Vec::new();
    while let Some(frame) = reader.next_frame().map_err(in_footage)? {
        if watch.stop_asked() {
            return Err(DossierError::Stopped);
        }
        let number = frame.number.0 as usize;
        if let Some(&after_contact_s) = wanted.get(&number) {
            pictures.push(StripPicture {
                camera: inputs.camera.id.to_string(),
                frame: frame.number.0,
                after_contact_s,
                metres_per_px: inputs.metres_per_px,
                picture: frame.picture,
                marks: marks_in(inputs, number),
            });
        }
        if number >= last {
            break;
        }
    }
    Ok(pictures)
}

/// Frame number → its time after contact, for the frames nearest to the instants asked for.
fn wanted_frames(inputs: &StripInputs<'_>) -> BTreeMap<usize, f64> {
    let mut wanted = BTreeMap::new();
    let interval_s = inputs.clock.interval_s();
    for instant_ms in &inputs.dossier.document.test.strip_ms {
        let instant_s = inputs.contact_s + instant_ms / 1000.0;
        let nearest = (0..inputs.film.n_frames).min_by(|&a, &b| {
            let away = |frame| (inputs.clock.time_s(frame) - instant_s).abs();
            away(a).total_cmp(&away(b))
        });
        let Some(frame) = nearest else { continue };
        let time_s = inputs.clock.time_s(frame);
        if (time_s - instant_s).abs() <= interval_s {
            wanted.insert(frame, time_s - inputs.contact_s);
        }
    }
    wanted
}

fn marks_in(inputs: &StripInputs<'_>, frame: usize) -> Vec<(String, f64, f64)> {
    let tracks = inputs.camera.targets.iter().zip(&inputs.film.outcomes);
    tracks
        .filter_map(|(target, outcomes)| match outcomes.get(frame) {
            Some(Outcome::Mark(mark)) => Some((target.id.to_string(), mark.centre.x, mark.centre.y)),
            _ => None,
        })
        .collect()
}
