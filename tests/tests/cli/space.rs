//! Two cameras joined in space: the clock's offset, pitch, yaw and roll come back; what cannot be joined is refused.

use crate::rehearsal::{Copy, root};
use anyhow::{Context, Result, ensure};
use filmgauge_dossier::{Dossier, RunOptions, Unwatched};
use filmgauge_footage::Encoding;
use filmgauge_geometry::{CameraPose, PosedCamera};
use filmgauge_proving::Scene;
use filmgauge_quantities::{SpacePoint, ViewPlane};
use filmgauge_results::{Finding, Results};
use std::path::Path;
use std::sync::OnceLock;

/// What the overhead camera's clock is made to read more, s.
const OFFSET_S: f64 = 0.000_8;

/// Points in space, m.
const POINTS: [(&str, [f64; 3]); 8] = [
    ("S1", [-4.0, 0.6, 0.2]),
    ("S2", [-3.5, 1.2, 2.2]),
    ("S3", [-1.0, -1.3, 0.0]),
    ("S4", [0.5, 0.5, 2.0]),
    ("S5", [2.8, -1.3, 0.0]),
    ("S6", [3.2, 1.1, 2.0]),
    ("S7", [0.2, -0.8, 0.6]),
    ("S8", [1.5, 1.0, 1.2]),
];

/// The sample scene, shortened; the overhead camera sees the side camera's targets of the car, at their height.
fn scene() -> Result<Scene> {
    let mut scene = Scene::read(&root().join("sample-frames/hatchback.toml"))?;
    (scene.before_s, scene.after_s) = (0.05, 0.13);
    scene.dust.clear();
    scene.targets.retain(|target| target.camera == "side");
    let of_car = scene.targets.iter().filter(|target| ["C1", "C2", "C3", "C4"].contains(&target.id.as_str()));
    let mut above: Vec<_> = of_car.cloned().collect();
    ensure!(above.len() == 4, "four targets on the car");
    for target in &mut above {
        let [x_m, up_m] = target.at_m;
        "overhead".clone_into(&mut target.camera);
        // The side camera stands on the right of the path: its targets lie to the right of the middle.
        target.at_m = [x_m, -target.plane_offset_m];
        target.plane_offset_m = scene.car.cg_height_m + up_m;
    }
    scene.targets.extend(above);
    Ok(scene)
}

/// A camera of the scene as it truly stands: x along the path, y to its left, z up from the ground.
fn camera(scene: &Scene, id: &str) -> Result<PosedCamera> {
    let camera = scene.cameras.iter().find(|camera| camera.id == id).context("a camera")?;
    let (sin, cos) = camera.roll_deg.to_radians().sin_cos();
    let [along, second] = camera.axis_m;
    let (up, ahead, centre) = match camera.view {
        ViewPlane::Side => ([0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [along, -camera.distance_m, second]),
        ViewPlane::Overhead => {
            let height_m = camera.plane_height_m + camera.distance_m;
            ([0.0, 1.0, 0.0], [0.0, 0.0, -1.0], [along, second, height_m])
        }
    };
    let right = [1.0, 0.0, 0.0];
    let turned = |a: f64, b: f64| [0, 1, 2].map(|k| a * right[k] + b * up[k]);
    let pose = CameraPose {
        camera_from_space: [turned(cos, -sin), turned(-sin, -cos), ahead],
        centre: SpacePoint::new(centre[0], centre[1], centre[2]),
    };
    Ok(PosedCamera::exact(camera.lens, pose))
}

fn pose_line(camera: &PosedCamera) -> Result<String> {
    let points = POINTS.iter().map(|(name, m)| {
        let seen = camera.image_of(SpacePoint::new(m[0], m[1], m[2])).context("a point before the camera")?;
        Ok(format!("{{ name = \"{name}\", px = [{:.2}, {:.2}], m = {m:?} }}", seen.x, seen.y))
    });
    let points: Vec<String> = points.collect::<Result<_>>()?;
    Ok(format!(
        "pose = {{ uncertainty_px = 0.01, uncertainty_m = 0.0005, plane_at_m = 0.0, points = [{}] }}",
        points.join(", ")
    ))
}

/// The rehearsal with poses in place of boards, one clock off, and both cameras joined; rendered once.
fn joined() -> Result<Copy> {
    static FOLDER: OnceLock<Result<(), String>> = OnceLock::new();
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("space-rehearsal");
    let render = || -> Result<()> {
        if folder.exists() {
            std::fs::remove_dir_all(&folder)?;
        }
        filmgauge_cli::rehearse(scene()?, &folder, Encoding::Ffv1, &Unwatched)?;
        Ok(())
    };
    FOLDER
        .get_or_init(|| render().map_err(|error| format!("{error:#}")))
        .as_ref()
        .map_err(|text| anyhow::anyhow!("the rehearsal could not be made: {text}"))?;
    let copy = Copy::of(&folder)?;
    let (scene, text) = (scene()?, copy.text("dossier.toml")?);
    let boards: Vec<String> =
        text.lines().filter(|line| line.starts_with("board = ")).map(str::to_owned).collect();
    for (board, id) in boards.iter().zip(["side", "overhead"]) {
        copy.edit(board, &pose_line(&camera(&scene, id)?)?)?;
    }
    copy.edit("[test]\n", "space = { cameras = [\"side\", \"overhead\"] }\n\n[test]\n")?;
    let text = copy.text("dossier.toml")?;
    let at = text.rfind("zero = { by = \"flash\" }").context("a flash")?;
    let zero = format!("zero = {{ by = \"flash\", delay_s = {OFFSET_S} }}");
    let text = format!("{}{zero}{}", &text[..at], &text[at + "zero = { by = \"flash\" }".len()..]);
    std::fs::write(copy.path("dossier.toml"), text)?;
    Ok(copy)
}

fn measured(copy: &Copy) -> Result<Results> {
    let dossier = Dossier::read(&copy.path("dossier.toml"))?;
    Ok(filmgauge_dossier::measure(&dossier, &RunOptions::default(), &Unwatched)?)
}

#[test]
fn two_cameras_tell_clock_and_attitude() -> Result<()> {
    let copy = joined()?;
    let results = measured(&copy)?;
    let in_space = |name: &str| -> Result<&Finding> {
        let joined = |finding: &&Finding| finding.evidence.camera.as_deref() == Some("side+overhead");
        let found = results.findings.iter().filter(joined).find(|finding| finding.name == name);
        found.with_context(|| format!("no {name}: {:?}", results.notices))
    };
    let near = |name: &str, truth: f64, most_u: f64| -> Result<()> {
        let found = in_space(name)?;
        let (value, u) =
            (found.value.with_context(|| format!("{found:?}"))?, found.uncertainty.context("a doubt")?);
        println!("{name}: {value:.6} ± {u:.6} {}, truth {truth:.6}", found.unit);
        ensure!((value - truth).abs() < 3.0 * u && u < most_u, "{name}: {value} ± {u}, truth {truth}");
        Ok(())
    };
    // Flashes time both clocks to tenths of a millisecond: what one truly reads more is told by the instants of its frames.
    let truth = copy.text("truth/marks.csv")?;
    let late = |camera: &str| -> Result<f64> {
        let row = results.marks.iter().find(|row| row.camera == camera).context("a mark")?;
        let frame = row.frame.to_string();
        let mut lines = truth.lines().map(|line| line.split(',').collect::<Vec<&str>>());
        let line = lines.find(|line| line[0] == camera && line[2] == frame).context("its truth")?;
        Ok(row.time_s - line[3].parse::<f64>()?)
    };
    let apart_s = late("overhead")? - late("side")?;
    ensure!((apart_s - OFFSET_S).abs() < 0.000_5, "{apart_s}");
    near("clock_offset", apart_s, 0.000_1)?;
    let truth = copy.text("truth/motion.csv")?;
    let rows = truth.lines().skip(1).map(|line| line.split(',').collect::<Vec<&str>>());
    let pitch: Vec<f64> = rows.filter(|row| row[1] == "side").filter_map(|row| row[4].parse().ok()).collect();
    near("pitch_up_max", pitch.iter().copied().fold(0.0, f64::max), 0.1)?;
    for (name, most_u) in [("roll_max", 0.3), ("yaw_max", 0.3), ("sideways_max", 0.02)] {
        near(name, 0.0, most_u)?;
    }
    let rows: Vec<_> = results.motion.iter().filter(|row| row.camera == "side+overhead").collect();
    ensure!(rows.len() > 150 && rows.iter().all(|row| row.roll_deg.is_some() && row.u_roll_deg.is_some()));
    let budget = &in_space("roll_max")?.budget;
    for source in ["marks", "camera pose of side", "lens of overhead", "clock of overhead"] {
        ensure!(budget.iter().any(|part| part.source == source), "{source}: {budget:?}");
    }
    Ok(())
}

#[test]
fn what_cannot_be_joined_is_refused_with_a_reason() -> Result<()> {
    for (from, to, said) in [
        ("\"side\", \"overhead\"]", "\"side\"]", "space needs two cameras or more"),
        ("\"side\", \"overhead\"]", "\"side\", \"roof\"]", "which does not exist"),
        ("\"side\", \"overhead\"]", "\"side\", \"side\"]", "twice"),
    ] {
        let copy = joined()?;
        copy.edit(from, to)?;
        let error = measured(&copy).err().context("must be refused")?.to_string();
        ensure!(error.contains(said), "{error}");
    }
    Ok(())
}
