//! One rehearsal without pictures: true marks and noise as marks by hand over a blank film, measured by the whole chain.

use anyhow::Context;
use filmgauge_dossier::{Dossier, RunOptions, Unwatched};
use filmgauge_footage::{Encoding, Writer};
use filmgauge_proving::{BodyName, Scene, TargetPaint, Truth, TruthMark, truth_marks};
use filmgauge_quantities::{GreyImage, ViewPlane};
use filmgauge_results::Results;
use rand_distr::{Distribution, StandardNormal, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Standard deviation of a mark along each axis, px.
pub(super) const MARK_U_PX: f64 = 0.03;
/// Standard uncertainty of time zero, s: that of a flash timed by the frames about it.
const ZERO_U_S: f64 = 2.0e-4;
/// Relative standard uncertainty of each stated mass.
const MASS_U: f64 = 0.002;

/// Random numbers of one seed and purpose.
pub(super) struct Draw(Xoshiro256PlusPlus);

impl Draw {
    pub(super) fn new(seed: u64, purpose: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed.wrapping_mul(0x9E37_79B9).wrapping_add(purpose)))
    }

    pub(super) fn normal(&mut self, sd: f64) -> f64 {
        let draw: f64 = StandardNormal.sample(&mut self.0);
        sd * draw
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        let draw: f64 = StandardUniform.sample(&mut self.0);
        low + (high - low) * draw
    }
}

/// Blank films, made once for each size and length.
pub struct Blank {
    folder: tempfile::TempDir,
    making: Mutex<()>,
}

impl Blank {
    /// An empty store.
    ///
    /// # Errors
    /// When there is no scratch folder.
    pub fn new() -> anyhow::Result<Self> {
        let folder = tempfile::tempdir().context("a scratch folder is needed")?;
        Ok(Self { folder, making: Mutex::new(()) })
    }

    /// A blank film of this size and length.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn film(&self, width: usize, height: usize, n_frames: u32) -> anyhow::Result<PathBuf> {
        let path = self.folder.path().join(format!("{width}x{height}-{n_frames}.mkv"));
        let _making = self.making.lock().map_err(|_poisoned| anyhow::anyhow!("another film failed"))?;
        if !path.exists() {
            let grey = GreyImage::from_u8(width, height, vec![128; width * height])?;
            let mut writer = Writer::create(&path, width, height, 8, Encoding::Ffv1, 30)?;
            for _ in 0..n_frames {
                writer.put(&grey.view())?;
            }
            writer.finish()?;
        }
        Ok(path)
    }
}

/// A rehearsal and what was measured of it.
pub struct Simulated {
    /// Its truth.
    pub truth: Truth,
    /// What the chain made of the marks.
    pub results: Results,
}

/// Simulates the marks of a scene and measures them. `edit` may change the dossier's text before.
///
/// # Errors
/// When the scene, the files or the dossier cannot be used: all are failures of the program.
pub fn simulated(scene: &Scene, blank: &Blank, edit: &dyn Fn(String) -> String) -> anyhow::Result<Simulated> {
    let truth = filmgauge_proving::simulate(scene)?;
    let folder = tempfile::tempdir().context("a scratch folder is needed")?;
    let mut draw = Draw::new(scene.seed, 2);
    let mut zeros = Vec::new();
    for (index, camera) in scene.cameras.iter().enumerate() {
        let marks = truth_marks(scene, &truth, index);
        let n_frames = marks.iter().map(|mark| mark.frame + 1).max().context("the scene has no targets")?;
        let film = blank.film(camera.width_px, camera.height_px, n_frames)?;
        let footage = folder.path().join(format!("footage/{}.mkv", camera.id));
        put(&footage, &[])?;
        std::fs::copy(film, &footage)?;
        put(
            &folder.path().join(format!("lenses/{}.toml", camera.id)),
            filmgauge_proving::lens_toml(scene, index).as_bytes(),
        )?;
        put(&folder.path().join(format!("picks/{}.csv", camera.id)), picks(&marks, &mut draw).as_bytes())?;
        zeros.push(zero(&marks, camera.frames_per_s, &mut draw)?);
    }
    let text = told(scene, filmgauge_proving::dossier_toml(scene, &truth, &[]), &zeros, &mut draw);
    put(&folder.path().join("dossier.toml"), edit(text).as_bytes())?;
    let dossier = Dossier::read(folder.path())?;
    let options = RunOptions { threads: Some(1), ..RunOptions::default() };
    let results = filmgauge_dossier::measure(&dossier, &options, &Unwatched)?;
    Ok(Simulated { truth, results })
}

fn put(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    std::fs::write(path, bytes).with_context(|| format!("{} cannot be written", path.display()))
}

/// Clear marks with noise.
fn picks(marks: &[TruthMark], draw: &mut Draw) -> String {
    let mut text = String::from("frame,target,x_px,y_px,sx_px,sy_px,operator\n");
    for mark in marks.iter().filter(|mark| mark.visible) {
        let (x, y) = (mark.x_px + draw.normal(MARK_U_PX), mark.y_px + draw.normal(MARK_U_PX));
        let _ =
            writeln!(text, "{},{},{x:.5},{y:.5},{MARK_U_PX},{MARK_U_PX},simulated", mark.frame, mark.target);
    }
    text
}

/// Time zero as a frame with its doubt.
fn zero(marks: &[TruthMark], frames_per_s: f64, draw: &mut Draw) -> anyhow::Result<String> {
    let first = marks.iter().find(|mark| mark.frame == 0).context("no first frame")?;
    // The true film speed may differ by parts in 10⁵: over the run-up that is nothing.
    let frame = -first.time_s * frames_per_s + draw.normal(ZERO_U_S * frames_per_s);
    Ok(format!("zero = {{ by = \"frame\", frame = {frame:.6}, uncertainty_s = {ZERO_U_S:?} }}"))
}

/// The dossier with time zeros as frames, masses as weighed, and the middles of both vehicles.
fn told(scene: &Scene, text: String, zeros: &[String], draw: &mut Draw) -> String {
    let mut text = text;
    for zero in zeros {
        text = text.replacen("zero = { by = \"flash\" }", zero, 1);
    }
    for (body, mass_kg) in [(BodyName::Car, scene.car.mass_kg), (BodyName::Truck, scene.truck.mass_kg)] {
        let head = format!("[[body]]\nid = \"{}\"\nmass_kg = {mass_kg:?}", body.word());
        let weighed = mass_kg + draw.normal(MASS_U * mass_kg);
        let middle = middle(scene, body).map_or_else(String::new, |target| {
            let [forward, left] = target.at_m.map(|at| 0.0 - at);
            format!("\nmiddle_from = {{ target = {:?}, m = [{forward:?}, {left:?}] }}", target.id)
        });
        let new = format!(
            "[[body]]\nid = \"{}\"\nmass_kg = {weighed:.3}\nmass_uncertainty_kg = {:.3}{middle}",
            body.word(),
            MASS_U * mass_kg
        );
        text = text.replacen(&head, &new, 1);
    }
    text
}

/// A rigid target of the body seen from above.
fn middle(scene: &Scene, body: BodyName) -> Option<&TargetPaint> {
    let above = scene.cameras.iter().find(|camera| camera.view == ViewPlane::Overhead)?;
    let rigid = |target: &&TargetPaint| target.body == body && target.crush_share <= 0.0;
    scene.targets.iter().filter(|target| target.camera == above.id).find(rigid)
}
