//! Calibrating a lens: edges are shown, a calibration runs in the background, and its lens file becomes the camera's.

use super::editing::edit;
use crate::edits::{set, thousandths};
use crate::session::{Calibrated, Session};
use crate::work::{Calibrating, Lens, LensInputs, LensJob};
use eframe::egui::Context;
use filmgauge_dossier::lens::{EdgeEntry, EdgesFile, LensCalibration};
use filmgauge_report::write_file;
use std::path::Path;
use std::sync::Arc;

/// Folder of lens files within the dossier.
const FOLDER: &str = "lenses";

/// Keeps an edge whose ends were shown. Edges of one calibration belong to one frame: the first one's.
pub(super) fn straight_edge(session: &mut Session, ends: [[f64; 2]; 2]) -> Option<String> {
    let (camera, frame) = (session.camera()?.id.clone(), session.frame());
    let shown = session.view.lens_edges.entry(camera).or_default();
    if shown.ends.is_empty() {
        shown.frame = frame;
    }
    if shown.frame != frame {
        return Some(format!(
            "The other edges are those of frame {}; go there, or take them out.",
            shown.frame
        ));
    }
    shown.ends.push(ends.map(|end| end.map(thousandths)));
    Some(format!("Edge {} is kept.", shown.ends.len()))
}

/// Takes the n-th edge out.
pub(super) fn drop_edge(session: &mut Session, n: usize) -> Option<String> {
    let camera = session.camera()?.id.clone();
    let shown = session.view.lens_edges.get_mut(&camera)?;
    (n < shown.ends.len()).then(|| {
        shown.ends.remove(n);
        format!("Edge {} was taken out.", n + 1)
    })
}

pub(super) fn begin(session: &mut Session, ctx: &Context, job: LensJob) -> Option<String> {
    if session.calibrating.is_some() {
        return Some("A lens is being calibrated already.".to_owned());
    }
    let camera = session.camera()?.id.clone();
    let inputs = match job {
        LensJob::Board => board(session),
        LensJob::Edges => edges(session, &camera),
    };
    let inputs = match inputs {
        Ok(inputs) => inputs,
        Err(text) => return Some(text),
    };
    let ctx = ctx.clone();
    session.calibrating = Some(Calibrating::begin(camera, inputs, move || ctx.request_repaint()));
    Some("The lens is being calibrated. The desk can be used meanwhile.".to_owned())
}

fn board(session: &Session) -> Result<LensInputs, String> {
    let wish = &session.view.lens_board;
    if !wish.is_complete() {
        return Err("Give the pictures, the board's inner corners and the side of a square first, in the camera's line.".to_owned());
    }
    let pictures = wish.pictures.split(';').map(str::trim).filter(|name| !name.is_empty());
    Ok(LensInputs::Board {
        root: session.workbook.dossier().root.clone(),
        pictures: pictures.map(str::to_owned).collect(),
        grid: wish.grid.clone(),
        pitch: wish.pitch.clone(),
    })
}

fn edges(session: &Session, camera: &str) -> Result<LensInputs, String> {
    let shown = session.view.lens_edges.get(camera).filter(|shown| !shown.ends.is_empty());
    let Some(shown) = shown else {
        return Err("Show straight edges in the film first, three or more.".to_owned());
    };
    if session.frame() != shown.frame {
        return Err(format!("The edges are those of frame {}; go there first.", shown.frame));
    }
    let frame = session.reel().and_then(|reel| reel.at(shown.frame)).map(Arc::clone);
    let frame = frame.ok_or("The frame is still on its way; try again.")?;
    let entry = |ends: &[[f64; 2]; 2]| EdgeEntry { name: None, points_px: ends.to_vec(), locate: true };
    let edge = shown.ends.iter().map(entry).collect();
    Ok(LensInputs::Edges { frame, shown: EdgesFile { frame: shown.frame, edge, ..EdgesFile::default() } })
}

pub(super) fn stop(session: &mut Session) -> Option<String> {
    session.calibrating.as_ref()?.stop();
    Some("Stopping at the next picture …".to_owned())
}

/// Takes what a calibration came to: its lens file goes into the dossier's folder, and the camera takes it.
pub(super) fn tend(session: &mut Session, ctx: &Context) -> Option<String> {
    let calibrating = session.calibrating.as_mut()?;
    let outcome = calibrating.outcome()?;
    let camera = calibrating.camera().to_owned();
    session.calibrating = None;
    match outcome {
        Lens::Stopped => Some("Calibrating was stopped; the lens is that of before.".to_owned()),
        Lens::Failed(text) => Some(format!("The lens could not be calibrated: {text}")),
        Lens::Calibrated(calibration, shown) => Some(take(session, ctx, camera, (*calibration, shown))),
    }
}

fn take(
    session: &mut Session,
    ctx: &Context,
    camera: String,
    (calibration, shown): (LensCalibration, Option<EdgesFile>),
) -> String {
    let Some(index) = session.document().camera.iter().position(|known| known.id == camera) else {
        return format!("Camera {camera} is gone; its lens was calibrated for nothing.");
    };
    let summary = calibration.said().first().cloned().unwrap_or_default();
    if session.workbook.read_only().is_some() {
        session.calibrated = Some(Calibrated {
            camera,
            file: "not written, the dossier is open for reading only".into(),
            calibration,
        });
        return summary;
    }
    let root = session.workbook.dossier().root.clone();
    // A file that is there already may be the lens of an act that can still be undone to.
    let named = |n: u32| if n == 1 { format!("{FOLDER}/{camera}") } else { format!("{FOLDER}/{camera}-{n}") };
    let is_free = |name: &String| !root.join(format!("{name}.toml")).exists();
    let name = (1..).map(named).find(is_free).unwrap_or_else(|| named(0));
    let file = format!("{name}.toml");
    if let Err(text) = written(&root, &name, &calibration, shown.as_ref()) {
        return format!("{summary}. The lens file could not be written: {text}");
    }
    let said =
        edit(session, ctx, &format!("lens of {camera}"), &[set("camera", index, "lens", file.as_str())]);
    session.calibrated = Some(Calibrated { camera, file: file.clone(), calibration });
    said.unwrap_or_else(|| format!("{summary}. The lens is in {file}."))
}

fn written(
    root: &Path,
    name: &str,
    calibration: &LensCalibration,
    shown: Option<&EdgesFile>,
) -> Result<(), String> {
    std::fs::create_dir_all(root.join(FOLDER)).map_err(|error| error.to_string())?;
    let put = |ending: &str, text: String| {
        write_file(&root.join(format!("{name}{ending}")), text.as_bytes()).map_err(|error| error.to_string())
    };
    if let Some(shown) = shown {
        put("-edges.toml", shown.to_toml())?;
    }
    put(".toml", calibration.file().to_toml())
}
