//! Dossiers to be marked: a film that shows its own frame numbers, with results invented so that each mark's place is known.

use crate::footage_films::films::make_only;
use anyhow::Result;
use filmgauge_footage::{FrameIndex, ReadOptions, index_footage};
use filmgauge_results::{
    BodyAxes, Curve, CurveBand, CurvePoint, EventRow, FilmDrawing, FilmPath, FrameTableText, GapRow,
    InputFile, InputKind, MarkRow, Panel, PanelMarker, PathKind, Provenance, Results,
};
use std::path::{Path, PathBuf};

/// Frames without a mark.
pub const GAP: std::ops::RangeInclusive<u32> = 40..=55;
/// Film speed, frames/s.
const SPEED: f64 = 1000.0;

/// Where the mark of a frame is, px: a law that no two frames share.
#[must_use]
pub fn mark_at(frame: u32) -> [f64; 2] {
    let k = f64::from(frame);
    [8.0 + 0.25 * k, 47.0 + 12.0 * (0.7 * k).sin()]
}

/// A dossier with invented results.
#[derive(Debug)]
pub struct Numbered {
    /// Its folder.
    pub folder: PathBuf,
    /// Its film.
    pub film: PathBuf,
    /// Frames of the film.
    pub n_frames: u32,
    /// Whether each frame is damaged.
    pub damaged: Vec<bool>,
}

impl Numbered {
    /// A dossier in `folder` for one of the films of the footage room's tests; `time_s` tells the time of a frame from
    /// time zero.
    ///
    /// # Errors
    /// When the film cannot be made or read, or results cannot be written.
    pub fn make(folder: &Path, film: &str, time_s: impl Fn(u32) -> f64) -> Result<Self> {
        let films = folder.join("films");
        std::fs::create_dir_all(&films)?;
        let needed: &[&str] = if film == "cut.mkv" { &["both.mp4", "both.mkv", "cut.mkv"] } else { &[film] };
        make_only(&films, needed).map_err(anyhow::Error::msg)?;
        Self::of_film(folder, film, time_s)
    }

    /// The same for any film in the folder `films` of `folder`.
    ///
    /// # Errors
    /// When the film cannot be read, or results cannot be written.
    pub fn of_film(folder: &Path, film: &str, time_s: impl Fn(u32) -> f64) -> Result<Self> {
        let films = folder.join("films");
        let read = ReadOptions { threads: 1, ..ReadOptions::default() };
        let (_, index) = index_footage(&films, film, &read, &mut |_| true)?;
        let dossier = folder.join("dossier.toml");
        std::fs::write(&dossier, dossier_text(&format!("films/{film}")))?;
        let hashed = |path: &str, kind| -> Result<InputFile> {
            let (bytes, blake3) = filmgauge_shelf::hashed(&folder.join(path))?;
            Ok(InputFile { path: path.to_owned(), kind, bytes, blake3 })
        };
        let inputs = vec![
            hashed("dossier.toml", InputKind::Dossier)?,
            hashed(&format!("films/{film}"), InputKind::Footage)?,
        ];
        let results = results(&index, &time_s, inputs)?;
        filmgauge_report::write_results(&folder.join("results"), &results, None)?;
        Ok(Self {
            folder: folder.to_owned(),
            film: films.join(film),
            n_frames: u32::try_from(index.len())?,
            damaged: index.frames.iter().map(|frame| frame.damaged).collect(),
        })
    }

    /// With frames a thousandth of a second apart.
    ///
    /// # Errors
    /// As [`Numbered::make`].
    pub fn even(folder: &Path, film: &str) -> Result<Self> {
        Self::make(folder, film, |frame| f64::from(frame) / SPEED - 0.1)
    }
}

fn dossier_text(film: &str) -> String {
    format!(
        "schema = 1\n\n[test]\nid = \"NB-001\"\ntitle = \"Numbered plate on a slide\"\n\n\
         [[camera]]\nid = \"side\"\nview = \"side\"\nfootage = \"{film}\"\n\
         speed = {{ frames_per_s = 1000.0, source = \"camera record\", relative_uncertainty = 1e-5 }}\n\
         exposure_s = 0.0002\nzero = {{ by = \"frame\", frame = 100 }}\n\
         board = {{ from_px = [10.0, 10.0], to_px = [80.0, 10.0], uncertainty_px = 0.1, length_m = 0.7, \
         uncertainty_m = 0.001, distance_m = 5.0, distance_uncertainty_m = 0.01 }}\n\n\
         [[target]]\ncamera = \"side\"\nid = \"N1\"\nkind = \"disc\"\nbody = \"plate\"\n\
         start = {{ frame = 0, px = [8.0, 47.0] }}\nradius_px = 5.0\nplane_offset_m = 0.0\n\
         plane_offset_uncertainty_m = 0.001\n\n[[body]]\nid = \"plate\"\nrole = \"striking\"\nmass_kg = 10.0\n"
    )
}

fn results(index: &FrameIndex, time_s: &impl Fn(u32) -> f64, inputs: Vec<InputFile>) -> Result<Results> {
    let frames = 0..u32::try_from(index.len())?;
    let mark = |frame: u32| {
        let [x_px, y_px] = mark_at(frame);
        let (camera, target, state) = ("side".into(), "N1".into(), "found".into());
        MarkRow {
            camera,
            target,
            frame,
            time_s: time_s(frame),
            x_px,
            y_px,
            state,
            trust: 1.0,
            ..MarkRow::default()
        }
    };
    let gap = GapRow {
        camera: "side".into(),
        target: "N1".into(),
        first_frame: *GAP.start(),
        last_frame: *GAP.end(),
        cause: "hidden".into(),
    };
    let contact = EventRow {
        id: "contact".into(),
        camera: "side".into(),
        frame: 100,
        time_s: time_s(100),
        u_s: 1e-4,
        how: "found".into(),
        text: String::new(),
    };
    Ok(Results {
        frame_tables: vec![FrameTableText { camera: "side".into(), text: index.to_text()? }],
        marks: frames.clone().filter(|frame| !GAP.contains(frame)).map(mark).collect(),
        gaps: vec![gap],
        events: vec![contact],
        panels: panels(frames.clone(), time_s),
        drawings: vec![drawing(frames, time_s)],
        provenance: Provenance { program: "filmgauge 0.1.0".into(), inputs, ..Provenance::default() },
        ..Results::default()
    })
}

fn drawing(frames: std::ops::Range<u32>, time_s: &impl Fn(u32) -> f64) -> FilmDrawing {
    let axes = |frame: u32| {
        let x = 30.0 + 0.1 * f64::from(frame);
        (frame % 50 != 7).then_some([[x, 20.0], [x + 12.0, 19.0], [x - 1.0, 8.0]])
    };
    FilmDrawing {
        camera: "side".into(),
        metres_per_px: Some(0.01),
        times_s: frames.clone().map(time_s).collect(),
        u_times_s: frames.clone().map(|_| 2e-5).collect(),
        strip_frames: Vec::new(),
        grid: None,
        paths: vec![FilmPath {
            label: "plate, mean of its targets".into(),
            kind: PathKind::BodyPoint,
            places: frames.clone().map(|frame| axes(frame).map(|[origin, ..]| origin)).collect(),
        }],
        axes: vec![BodyAxes { body: "plate".into(), length_m: 0.12, places: frames.map(axes).collect() }],
    }
}

fn panels(frames: std::ops::Range<u32>, time_s: &impl Fn(u32) -> f64) -> Vec<Panel> {
    let point = |frame: u32| CurvePoint {
        time_s: time_s(frame),
        value: (!GAP.contains(&frame)).then(|| 14.0 - 0.03 * f64::from(frame)),
    };
    let curve = Curve {
        label: "plate, film".into(),
        source: "film".into(),
        points: frames.clone().map(point).collect(),
        band: Some(CurveBand { half_width: frames.map(|_| Some(0.4)).collect() }),
    };
    let panel = |title: &str, unit: &str| Panel {
        title: title.into(),
        unit: unit.into(),
        curves: vec![curve.clone()],
        markers: vec![PanelMarker { time_s: time_s(100), label: "contact".into() }],
    };
    vec![panel("Speed along the path", "m/s"), panel("Pitch, nose up", "deg")]
}
