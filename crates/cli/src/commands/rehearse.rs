//! `rehearse`: a scene to a whole dossier with footage, sensor files and the exact truth beside it.

use crate::args::Storage;
use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::{Context, bail, ensure};
use filmgauge_dossier::{Progress, Watch};
use filmgauge_footage::{Encoding, Writer};
use filmgauge_proving::{RecordedChannel, Renderer, Scene, Truth};
use filmgauge_quantities::GreyImage;
use filmgauge_sensors::{Channel, ExchangeTest, TestObject};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Frames rendered side by side before they are written in order.
const FRAMES_AT_ONCE: u32 = 8;

/// A written rehearsal: the scene as used and its solved motion.
pub struct Rehearsed {
    /// The scene, with its seed.
    pub scene: Scene,
    /// Its truth.
    pub truth: Truth,
}

pub(super) fn command(
    scene: &Path,
    folder: &Path,
    seed: Option<u64>,
    storage: Storage,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let mut scene = Scene::read(scene)?;
    scene.seed = seed.unwrap_or(scene.seed);
    let terminal = Terminal::new();
    let done = rehearse(scene, folder, storage.encoding(), &terminal);
    terminal.clear();
    let done = done?;
    if json {
        writeln!(out, "{:#}", filmgauge_proving::truth_json(&done.scene, &done.truth))?;
    } else {
        writeln!(out, "Rehearsal {} (seed {}): {}", done.scene.id, done.scene.seed, folder.display())?;
        writeln!(out, "Measure it with: filmgauge measure {}", folder.display())?;
    }
    Ok(Exit::Done)
}

/// Renders `scene` into `folder`: dossier, footage, lens files, sensor files, truth. The same scene and seed give the
/// same bytes, for any number of threads.
///
/// # Errors
/// When the folder holds something already, the scene cannot be solved, a file cannot be written, or `watch` asks to
/// stop.
pub fn rehearse(
    scene: Scene,
    folder: &Path,
    encoding: Encoding,
    watch: &dyn Watch,
) -> anyhow::Result<Rehearsed> {
    let empty = !folder.exists() || folder.read_dir().is_ok_and(|mut entries| entries.next().is_none());
    ensure!(empty, "{} is not empty; choose a new folder", folder.display());
    let truth = filmgauge_proving::simulate(&scene)?;
    let mut footage = Vec::new();
    for index in 0..scene.cameras.len() {
        footage.push(write_footage(&scene, &truth, index, folder, encoding, watch)?);
        let lens = folder.join(format!("lenses/{}.toml", scene.cameras[index].id));
        put(&lens, filmgauge_proving::lens_toml(&scene, index).as_bytes())?;
    }
    write_channels(&scene, &filmgauge_proving::channels(&scene, &truth), folder)?;
    let dossier = filmgauge_proving::dossier_toml(&scene, &truth, &footage);
    put(&folder.join("dossier.toml"), dossier.as_bytes())?;
    let truth_text = format!("{:#}\n", filmgauge_proving::truth_json(&scene, &truth));
    put(&folder.join("truth/findings.json"), truth_text.as_bytes())?;
    put(&folder.join("truth/marks.csv"), marks_csv(&scene, &truth).as_bytes())?;
    put(&folder.join("truth/motion.csv"), motion_csv(&scene, &truth)?.as_bytes())?;
    if let Some(film) = filmgauge_proving::film_truth_json(&scene) {
        put(&folder.join("truth/film.json"), format!("{film:#}\n").as_bytes())?;
    }
    Ok(Rehearsed { scene, truth })
}

/// Renders and encodes one camera; returns the footage as the dossier names it.
fn write_footage(
    scene: &Scene,
    truth: &Truth,
    index: usize,
    folder: &Path,
    encoding: Encoding,
    watch: &dyn Watch,
) -> anyhow::Result<String> {
    let camera = &scene.cameras[index];
    let renderer = Renderer::new(scene, truth, index)?;
    let stills = encoding == Encoding::PngSequence;
    let file = if stills { format!("footage/{}", camera.id) } else { format!("footage/{}.mkv", camera.id) };
    // Played at the usual 30 frames/s, as high-speed cameras write it: the true rate is the dossier's to say.
    let mut writer = Writer::create(
        &folder.join(&file),
        camera.width_px,
        camera.height_px,
        camera.picture.bits,
        encoding,
        30,
    )?;
    let n_frames = renderer.n_frames();
    let step = format!("camera {}: rendering", camera.id);
    let mut first = 0;
    while first < n_frames {
        if watch.stop_asked() {
            bail!("stopped on request; {} is not complete", folder.display());
        }
        let last = (first + FRAMES_AT_ONCE).min(n_frames);
        let pictures: Vec<GreyImage> =
            (first..last).into_par_iter().map(|frame| renderer.frame(frame)).collect();
        for picture in &pictures {
            writer.put(&picture.view())?;
        }
        first = last;
        watch.progress(&Progress { step: &step, done: first.into(), total: Some(n_frames.into()) });
    }
    writer.finish()?;
    Ok(if stills { format!("{file}/*.png") } else { file })
}

/// Channels of one file go together, in the scene's order.
fn write_channels(scene: &Scene, channels: &[RecordedChannel], folder: &Path) -> anyhow::Result<()> {
    let mut files: BTreeMap<&PathBuf, Vec<Channel>> = BTreeMap::new();
    for channel in channels {
        files.entry(&channel.file).or_default().push(Channel {
            code: channel.code.clone(),
            unit: channel.unit.clone(),
            start_s: channel.start_s,
            step_s: channel.step_s,
            values: channel.values.clone(),
            file: channel.file.clone(),
            comments: vec!["rehearsal".into()],
            steps: Vec::new(),
        });
    }
    for (file, group) in files {
        let path = folder.join(file);
        let parent = path.parent().context("a channel file needs a folder")?;
        std::fs::create_dir_all(parent).with_context(|| format!("{} cannot be made", parent.display()))?;
        if file.extension().is_some_and(|extension| extension == "csv") {
            filmgauge_sensors::write_csv(&path, &group)?;
        } else {
            filmgauge_sensors::write_exchange(parent, &exchange_test(scene, file), &group)?;
        }
    }
    Ok(())
}

fn exchange_test(scene: &Scene, file: &Path) -> ExchangeTest {
    let name = file.file_stem().map_or_else(|| scene.id.clone(), |stem| stem.to_string_lossy().into_owned());
    let object = |name: &str, speed_m_s, mass_kg| TestObject {
        name: name.into(),
        speed_m_s: Some(speed_m_s),
        mass_kg: Some(mass_kg),
    };
    ExchangeTest {
        name,
        title: scene.title.clone(),
        kind: "rehearsal".into(),
        date: None,
        comments: vec!["computed by rehearse; not a real test".into()],
        objects: vec![
            object("car", scene.car.speed_km_h / 3.6, scene.car.mass_kg),
            object("truck", 0.0, scene.truck.mass_kg),
        ],
    }
}

fn marks_csv(scene: &Scene, truth: &Truth) -> String {
    let mut text = String::from("camera,target,frame,time_s,x_px,y_px,visible\n");
    for index in 0..scene.cameras.len() {
        for mark in filmgauge_proving::truth_marks(scene, truth, index) {
            let _ = writeln!(
                text,
                "{},{},{},{:.9},{:.6},{:.6},{}",
                mark.camera, mark.target, mark.frame, mark.time_s, mark.x_px, mark.y_px, mark.visible
            );
        }
    }
    text
}

/// True motion at every mid-exposure of every camera.
fn motion_csv(scene: &Scene, truth: &Truth) -> anyhow::Result<String> {
    let mut text = String::from(
        "time_s,camera,car_x_m,car_z_m,car_pitch_deg,car_vx_m_s,car_vz_m_s,car_ax_m_s2,truck_x_m,truck_vx_m_s,\
         truck_ax_m_s2,front_crush_m,cushion_stroke_m\n",
    );
    for (index, camera) in scene.cameras.iter().enumerate() {
        let renderer = Renderer::new(scene, truth, index)?;
        for frame in 0..renderer.n_frames() {
            let now = truth.at(renderer.time_s(frame));
            let (car, truck) = (now.car, now.truck);
            let _ = write!(text, "{:.9},{}", now.t_s, camera.id);
            let figures = [
                car.x_m,
                car.z_m,
                car.pitch_rad.to_degrees(),
                car.vx_m_s,
                car.vz_m_s,
                car.ax_m_s2,
                truck.x_m,
                truck.vx_m_s,
                truck.ax_m_s2,
                now.front_crush_m,
                now.cushion_stroke_m,
            ];
            for figure in figures {
                let _ = write!(text, ",{figure:.9}");
            }
            text.push('\n');
        }
    }
    Ok(text)
}

fn put(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let parent = path.parent().context("a file needs a folder")?;
    std::fs::create_dir_all(parent).with_context(|| format!("{} cannot be made", parent.display()))?;
    filmgauge_shelf::put(path, bytes).with_context(|| format!("{} cannot be written", path.display()))
}
