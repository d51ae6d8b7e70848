//! The picture strip: each camera's frame nearest to each named instant, fetched again by the frame index.

use super::clock::Clock;
use super::film::Film;
use crate::error::DossierError;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::CameraPlan;
use crate::watch::Watch;
use filmgauge_footage::{RandomOptions, RandomReader, ReadOptions};
use filmgauge_quantities::FrameNumber;
use filmgauge_results::{Notice, Severity, StripPicture};
use filmgauge_targets::Outcome;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What the strip of one camera needs.
pub(crate) struct StripInputs<'a> {
    pub(crate) dossier: &'a Dossier,
    pub(crate) camera: &'a CameraPlan,
    pub(crate) film: &'a Film,
    pub(crate) clock: &'a Clock,
    pub(crate) contact_s: f64,
    pub(crate) metres_per_px: f64,
}

/// Pictures of one camera in order of time, and what kept one out. Instants outside the film are left out.
pub(crate) fn strip(
    inputs: &StripInputs<'_>,
    options: &RunOptions,
    watch: &dyn Watch,
) -> Result<(Vec<StripPicture>, Vec<Notice>), DossierError> {
    let wanted = wanted_frames(inputs);
    let (mut pictures, mut notices) = (Vec::new(), Vec::new());
    if wanted.is_empty() {
        return Ok((pictures, notices));
    }
    let in_footage = |source| DossierError::Footage { camera: inputs.camera.id.to_string(), source };
    let read = ReadOptions { fields: inputs.camera.fields, ..options.read.clone() };
    // The content was hashed in the first pass, a moment ago.
    let random = RandomOptions { read, whole_check: false, ..RandomOptions::default() };
    let index = Arc::clone(&inputs.film.index);
    let mut reader = RandomReader::open(&inputs.dossier.root, &inputs.camera.footage, index, &random)
        .map_err(in_footage)?;
    for (&number, &after_contact_s) in &wanted {
        if watch.stop_asked() {
            return Err(DossierError::Stopped);
        }
        let Ok(frame) = u32::try_from(number) else { continue };
        match reader.frame(FrameNumber(frame)) {
            Ok(fetched) => pictures.push(StripPicture {
                camera: inputs.camera.id.to_string(),
                frame,
                after_contact_s,
                metres_per_px: inputs.metres_per_px,
                picture: fetched.picture.clone(),
                marks: marks_in(inputs, number),
            }),
            Err(error) => notices.push(Notice {
                severity: Severity::Warning,
                place: format!("camera {}, frame {frame}", inputs.camera.id),
                text: format!("its picture is not in the strip: {error}"),
                remedy: "Look at the footage's faults; a damaged frame cannot always be read twice alike"
                    .into(),
            }),
        }
    }
    Ok((pictures, notices))
}

/// Frame number → its time after contact, for the frames nearest to the instants asked for and those named by hand.
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
    let named = inputs.dossier.document.event.iter();
    for event in named.filter(|event| inputs.camera.id.as_str() == event.camera) {
        let frame = event.frame as usize;
        if frame < inputs.film.n_frames {
            wanted.insert(frame, inputs.clock.time_s(frame) - inputs.contact_s);
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
