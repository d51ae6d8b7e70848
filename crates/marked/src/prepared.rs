//! Everything that is settled before the first frame: results that follow from the files, the frames, the playing speed,
//! and the drawing.

use crate::{MarkedError, MarkedOptions};
use filmgauge_dossier::document::Units;
use filmgauge_dossier::plan::CameraPlan;
use filmgauge_dossier::{Dossier, Plan, RunOptions, Unwatched};
use filmgauge_footage::FrameIndex;
use filmgauge_handover::{input_changes, settings_changed, stored_provenance};
use filmgauge_quantities::FrameNumber;
use filmgauge_report::{FilmResults, MarkedFilm, MarkedLook, Rows};
use filmgauge_results::{Provenance, UnitSystem};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Pictures that players show in a second where nothing else is asked for, in thousandths.
const USUAL_MILLIHERTZ: u32 = 25_000;
/// Intervals that differ by more than this part are told of.
const UNEVEN: f64 = 0.01;

/// A camera ready to be drawn.
pub(crate) struct Prepared {
    pub(crate) camera: CameraPlan,
    pub(crate) provenance: Provenance,
    pub(crate) index: Arc<FrameIndex>,
    pub(crate) drawn: MarkedFilm,
    /// First and last frame.
    pub(crate) frames: [u32; 2],
    pub(crate) millihertz: u32,
    /// How much slower than real time, in words.
    pub(crate) slower: String,
    /// Frames of events and of the sheet's picture strip.
    pub(crate) instants: BTreeSet<u32>,
}

impl Prepared {
    pub(crate) fn of(dossier: &Dossier, options: &MarkedOptions) -> Result<Self, MarkedError> {
        options.check()?;
        let plan = Plan::of(dossier)?;
        let camera = chosen(&plan, options.camera.as_deref())?.clone();
        let folder = dossier.root.join("results");
        let provenance = sound_results(dossier)?;
        let stored = FilmResults::read(&folder, camera.id.as_str())?;
        let index = folder.join(format!("frames-{}.txt", filmgauge_shelf::file_name(camera.id.as_str())));
        let index = Arc::new(FrameIndex::read(&index)?);
        let frames = frames_of(options, index.len(), camera.id.as_str())?;
        let (millihertz, slower) =
            playing(options, &stored.drawing.times_s, frames, camera.speed.frames_per_s)?;
        let test = &dossier.document.test;
        let look = MarkedLook {
            test: test.id.clone(),
            title: test.title.clone(),
            units: match test.units {
                Units::Si => UnitSystem::Si,
                Units::Us => UnitSystem::Us,
            },
            slower: slower.clone(),
            curves: options
                .curves
                .clone()
                .unwrap_or_else(|| stored.curve_names().into_iter().take(1).collect()),
            trail: options.trail,
            frames,
            damage: index.frames.iter().any(|frame| frame.damaged),
        };
        let instants = stored.event_frames.iter().chain(&stored.drawing.strip_frames).copied().collect();
        let rows = if index.head.fields.is_some() { 2 } else { 1 };
        let drawn = MarkedFilm::new(stored, look, (index.head.width_px, rows * index.head.height_px))?;
        Ok(Self { camera, provenance, index, drawn, frames, millihertz, slower, instants })
    }

    /// Which rows of the stored picture a frame holds.
    pub(crate) fn rows(&self, frame: u32) -> Rows {
        let parity = self.index.head.fields.and_then(|order| order.parity(FrameNumber(frame)));
        parity.map_or(Rows::All, |parity| Rows::EveryOther { first: parity.first_row() })
    }
}

fn chosen<'a>(plan: &'a Plan, id: Option<&str>) -> Result<&'a CameraPlan, MarkedError> {
    let names = || plan.cameras.iter().map(|camera| camera.id.as_str()).collect::<Vec<_>>().join(", ");
    match (id, &plan.cameras[..]) {
        (None, [only]) => Ok(only),
        (None, _) => {
            Err(MarkedError::Option(format!("the dossier has several cameras; choose one of {}", names())))
        }
        (Some(id), cameras) => cameras.iter().find(|camera| camera.id.as_str() == id).ok_or_else(|| {
            MarkedError::Option(format!("the dossier has no camera \"{id}\"; choose one of {}", names()))
        }),
    }
}

/// The provenance of results that follow from the files as they are now.
fn sound_results(dossier: &Dossier) -> Result<Provenance, MarkedError> {
    let then = stored_provenance(&dossier.root.join("results"))?;
    let inputs = input_changes(&dossier.root, &then, &Unwatched)?;
    if inputs.is_empty() {
        return Ok(then);
    }
    let settings = settings_changed(&then, &filmgauge_dossier::stated(dossier, &RunOptions::default()));
    Err(MarkedError::Stale { changes: inputs.iter().chain(&settings).map(ToString::to_string).collect() })
}

fn frames_of(options: &MarkedOptions, n_frames: usize, camera: &str) -> Result<[u32; 2], MarkedError> {
    let refuse = |text: String| Err(MarkedError::Option(text));
    let Some(last) = u32::try_from(n_frames).ok().and_then(|n| n.checked_sub(1)) else {
        return refuse(format!("the film of camera {camera} has no frames; survey it"));
    };
    let (from, to) = (options.from.unwrap_or(0), options.to.unwrap_or(last));
    if to > last || from > to {
        return refuse(format!(
            "camera {camera} has frames 0 to {last}, not {from} to {to}; choose among them"
        ));
    }
    Ok([from, to])
}

/// Pictures a second in thousandths, and how much slower than real time that is.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to lie between 0.1 and 1000 /s"
)]
fn playing(
    options: &MarkedOptions,
    times_s: &[f64],
    [from, to]: [u32; 2],
    stated_per_s: f64,
) -> Result<(u32, String), MarkedError> {
    let times: Vec<f64> = times_s.get(from as usize..=to as usize).unwrap_or_default().to_vec();
    let took_s = times.first().zip(times.last()).map_or(0.0, |(first, last)| last - first);
    let per_s = if took_s > 0.0 { f64::from(to - from) / took_s } else { stated_per_s };
    let millihertz = match options.slower {
        None => USUAL_MILLIHERTZ,
        Some(slower) => {
            let rate = per_s / slower;
            if !(0.1..=1000.0).contains(&rate) {
                return Err(MarkedError::Option(format!(
                    "{slower} times slower than real time shows {rate:.3} pictures a second; players show 0.1 to 1000: for this film choose {:.3} to {:.0}",
                    per_s / 1000.0,
                    per_s / 0.1
                )));
            }
            (rate * 1000.0).round() as u32
        }
    };
    let uneven = times.windows(2).any(|pair| ((pair[1] - pair[0]) * per_s - 1.0).abs() > UNEVEN);
    let words = slowdown(per_s * 1000.0 / f64::from(millihertz));
    Ok((millihertz, if uneven { words + " on average" } else { words }))
}

/// Such as "1/40 of real time".
fn slowdown(times: f64) -> String {
    let short = |value: f64| {
        let text = format!("{value:.*}", if value < 100.0 { 2 } else { 0 });
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
    };
    if times >= 1.0 {
        let told = short(times);
        if told == "1" { "real time".to_owned() } else { format!("1/{told} of real time") }
    } else {
        format!("{} times real time", short(1.0 / times))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slowdowns_are_short_words() {
        assert_eq!(slowdown(40.0), "1/40 of real time");
        assert_eq!(slowdown(39.9988), "1/40 of real time");
        assert_eq!(slowdown(12.5), "1/12.5 of real time");
        assert_eq!(slowdown(400.0), "1/400 of real time");
        assert_eq!(slowdown(1.0), "real time");
        assert_eq!(slowdown(0.5), "2 times real time");
    }

    #[test]
    fn the_playing_speed_follows_the_true_times() {
        let times: Vec<f64> = (0..101).map(|frame| f64::from(frame) * 1e-3).collect();
        let usual = MarkedOptions::default();
        assert_eq!(playing(&usual, &times, [0, 100], 1.0).unwrap(), (25_000, "1/40 of real time".to_owned()));
        let slower = MarkedOptions { slower: Some(20.0), ..usual.clone() };
        assert_eq!(playing(&slower, &times, [10, 60], 1.0).unwrap().0, 50_000);
        let uneven: Vec<f64> = times.iter().map(|time| time + 4.0 * time * time).collect();
        let (millihertz, words) = playing(&slower, &uneven, [0, 100], 1.0).unwrap();
        assert_eq!((millihertz, words.as_str()), (35_714, "1/20 of real time on average"));
        let far = MarkedOptions { slower: Some(1e6), ..usual };
        let text = playing(&far, &times, [0, 100], 1.0).unwrap_err().to_string();
        assert!(text.contains("choose 1.000 to 10000"), "{text}");
    }

    #[test]
    fn frames_lie_within_the_film() {
        let options = MarkedOptions { from: Some(5), ..MarkedOptions::default() };
        assert_eq!(frames_of(&options, 10, "side").unwrap(), [5, 9]);
        let text = frames_of(&options, 5, "side").unwrap_err().to_string();
        assert!(text.contains("frames 0 to 4"), "{text}");
        assert!(frames_of(&options, 0, "side").is_err());
    }
}
