//! What the scale may rest on in place of a board, and what a dossier hears when it cannot: surveyed points, a pose, known
//! lengths, an unknown plane offset, a shaking camera. The truth is the rehearsal's.

use crate::rehearsal::{Copy, root};
use anyhow::{Context, Result, ensure};
use filmgauge_dossier::{Dossier, RunOptions, Unwatched};
use filmgauge_footage::Encoding;
use filmgauge_geometry::{CameraPose, PosedCamera};
use filmgauge_proving::{Scene, ShakeSetup};
use filmgauge_quantities::SpacePoint;
use filmgauge_results::{Finding, Results};

/// The side camera of the sample scene as it truly stands: x along the path, y to its left, z up; the board's plane is y = 0.
fn side_camera() -> Result<PosedCamera> {
    let scene = Scene::read(&root().join("sample-frames/hatchback.toml"))?;
    let camera = scene.cameras.iter().find(|camera| camera.id == "side").context("a side camera")?;
    let (sin, cos) = camera.roll_deg.to_radians().sin_cos();
    let pose = CameraPose {
        camera_from_space: [[cos, 0.0, -sin], [-sin, 0.0, -cos], [0.0, 1.0, 0.0]],
        centre: SpacePoint::new(camera.axis_m[0], -camera.distance_m, camera.axis_m[1]),
    };
    Ok(PosedCamera::exact(camera.lens, pose))
}

/// Where the camera sees a point, to a hundredth of a pixel, as a person would write it.
fn px(camera: &PosedCamera, at: [f64; 3]) -> Result<String> {
    let seen = camera.image_of(SpacePoint::new(at[0], at[1], at[2])).context("a point before the camera")?;
    Ok(format!("[{:.2}, {:.2}]", seen.x, seen.y))
}

/// Points of the board's plane, along the path and up, m.
const PLANE: [(&str, [f64; 2]); 6] = [
    ("P1", [-4.0, 0.2]),
    ("P2", [-3.8, 2.2]),
    ("P3", [0.1, 0.1]),
    ("P4", [0.5, 2.3]),
    ("P5", [3.0, 0.2]),
    ("P6", [3.3, 2.1]),
];

/// Points in space, m.
const SPACE: [(&str, [f64; 3]); 8] = [
    ("S1", [-4.0, 0.0, 0.2]),
    ("S2", [-3.5, 1.5, 2.2]),
    ("S3", [-1.0, -1.6, 0.0]),
    ("S4", [0.5, 0.5, 2.4]),
    ("S5", [2.8, -1.6, 0.0]),
    ("S6", [3.2, 2.0, 2.1]),
    ("S7", [0.2, -0.8, 0.6]),
    ("S8", [1.5, 1.0, 1.2]),
];

fn plane_points(swapped: bool) -> Result<String> {
    let camera = side_camera()?;
    let mut names: Vec<&str> = PLANE.iter().map(|(name, _)| *name).collect();
    if swapped {
        names.swap(1, 4);
    }
    let points = PLANE.iter().zip(&names).map(|((_, [x, z]), name)| {
        // The place in the film stays; the name, and so the survey's figures, may be another's.
        let surveyed = PLANE.iter().find(|(own, _)| own == name).map_or([*x, *z], |(_, m)| *m);
        let px = px(&camera, [*x, 0.0, *z])?;
        Ok(format!("{{ name = \"{name}\", px = {px}, m = [{}, {}] }}", surveyed[0], surveyed[1]))
    });
    let points: Vec<String> = points.collect::<Result<_>>()?;
    Ok(format!(
        "plane = {{ uncertainty_px = 0.05, uncertainty_m = 0.001, points = [{}] }}",
        points.join(", ")
    ))
}

/// A copy of the rehearsal with this line in place of its board.
fn in_place_of_board(line: &str) -> Result<Copy> {
    let copy = Copy::new()?;
    let text = copy.text("dossier.toml")?;
    let board = text.lines().find(|line| line.starts_with("board = ")).context("a board")?.to_owned();
    copy.edit(&board, line)?;
    Ok(copy)
}

fn measured(copy: &Copy) -> Result<Results> {
    let dossier = Dossier::read(&copy.path("dossier.toml"))?;
    Ok(filmgauge_dossier::measure(&dossier, &RunOptions::default(), &Unwatched)?)
}

fn finding<'a>(results: &'a Results, name: &str) -> Result<&'a Finding> {
    let mut found = results.findings.iter().filter(|finding| finding.name == name);
    found.find(|finding| finding.value.is_some()).with_context(|| format!("no {name}"))
}

/// The contact speed against the rehearsal's truth, m/s: error and standard uncertainty.
fn contact_speed(copy: &Copy, results: &Results) -> Result<(f64, f64)> {
    let truth: serde_json::Value = serde_json::from_str(&copy.text("truth/findings.json")?)?;
    let truth = truth["contact_speed_m_s"].as_f64().context("a true contact speed")?;
    let found = finding(results, "contact_speed")?;
    Ok((found.value.context("a value")? - truth, found.uncertainty.context("a doubt")?))
}

#[test]
fn surveyed_points_of_the_plane_stand_in_for_a_board() -> Result<()> {
    let copy = in_place_of_board(&plane_points(false)?)?;
    let results = measured(&copy)?;
    let (error, u) = contact_speed(&copy, &results)?;
    ensure!(error.abs() < 2.6 * u && u < 0.05, "{error} ± {u}");
    let budget = &finding(&results, "contact_speed")?.budget;
    ensure!(budget.iter().any(|part| part.source == "plane points"), "{budget:?}");
    Ok(())
}

#[test]
fn a_pose_from_points_in_space_stands_in_for_a_board() -> Result<()> {
    let camera = side_camera()?;
    let points = SPACE.iter().map(|(name, m)| {
        let px = px(&camera, *m)?;
        Ok(format!("{{ name = \"{name}\", px = {px}, m = [{}, {}, {}] }}", m[0], m[1], m[2]))
    });
    let points: Vec<String> = points.collect::<Result<_>>()?;
    let line = format!(
        "pose = {{ uncertainty_px = 0.05, uncertainty_m = 0.002, plane_at_m = 0.0, points = [{}] }}",
        points.join(", ")
    );
    let copy = in_place_of_board(&line)?;
    let results = measured(&copy)?;
    let (error, u) = contact_speed(&copy, &results)?;
    ensure!(error.abs() < 2.6 * u && u < 0.05, "{error} ± {u}");
    let budget = &finding(&results, "contact_speed")?.budget;
    ensure!(budget.iter().any(|part| part.source == "camera pose"), "{budget:?}");
    let lines = &results.cameras[0].lines;
    ensure!(lines.iter().any(|(label, text)| label == "Camera" && text.contains("by 8 points")), "{lines:?}");
    Ok(())
}

#[test]
fn swapped_points_are_named() -> Result<()> {
    let copy = in_place_of_board(&plane_points(true)?)?;
    copy.measure()?.refused(&["camera side: ", "P5 and P2 look swapped", "from no fit at all to 0.00 px"])
}

#[test]
fn millimetres_among_metres_are_named() -> Result<()> {
    let line = plane_points(false)?.replace("m = [0.5, 2.3]", "m = [500.0, 2300.0]");
    in_place_of_board(&line)?.measure()?.refused(&["camera side: ", "P4", "millimetres"])
}

#[test]
fn a_board_and_points_at_once_are_refused() -> Result<()> {
    let copy = Copy::new()?;
    copy.edit("\nboard = {", &format!("\n{}\nboard = {{", plane_points(false)?))?;
    copy.measure()?.refused(&["camera side has board and plane", "Keep the one"])
}

#[test]
fn a_pose_without_a_lens_is_refused() -> Result<()> {
    let copy = in_place_of_board("pose = { uncertainty_m = 0.002, plane_at_m = 0.0, points = [] }")?;
    copy.edit("lens = \"lenses/side.toml\"", "")?;
    copy.measure()?.refused(&["camera side has a pose but no lens", "filmgauge lens"])
}

/// A length of 1.5 m in the board's plane, stated as so many metres.
fn with_length(stated_m: f64) -> Result<Copy> {
    let camera = side_camera()?;
    let (from, to) = (px(&camera, [-1.0, 0.0, 1.9])?, px(&camera, [0.5, 0.0, 1.9])?);
    let copy = Copy::new()?;
    let entry = format!(
        "\nlength = [{{ name = \"beam\", from_px = {from}, to_px = {to}, length_m = {stated_m}, uncertainty_m = 0.001, \
         uncertainty_px = 0.05 }}]\nboard = {{"
    );
    copy.edit("\nboard = {", &entry)?;
    Ok(copy)
}

#[test]
fn a_known_length_checks_the_scale() -> Result<()> {
    let results = measured(&with_length(1.5)?)?;
    let told = results.cameras[0].lines.iter().find(|(label, _)| label == "Known length beam");
    ensure!(told.is_some_and(|(_, text)| text.contains("kept out of the scale")), "{told:?}");
    ensure!(results.notices.iter().all(|notice| !notice.text.contains("beam")), "{:?}", results.notices);
    let said = with_length(1.545)?.measure()?;
    said.asks(&["known length beam disagrees with the scale"])
}

#[test]
fn an_offset_that_nobody_stated_is_doubted_and_named() -> Result<()> {
    let copy = Copy::new()?;
    let text = copy.text("dossier.toml")?;
    let kept: Vec<&str> = text.lines().filter(|line| !line.starts_with("plane_offset")).collect();
    copy.put("dossier.toml", kept.join("\n"))?;
    let results = measured(&copy)?;
    let notice = results.notices.iter().find(|notice| notice.text.contains("plane offset of car"));
    ensure!(notice.is_some_and(|notice| notice.text.contains("0.71 %")), "{:?}", results.notices);
    // The car's targets truly lie 0.82 m nearer: the speed comes out too large, and the ± says that it may.
    let (error, u) = contact_speed(&copy, &results)?;
    ensure!(error > 0.5 && error < 2.0 * u, "{error} ± {u}");
    Ok(())
}

#[test]
fn a_camera_that_shakes_is_steadied_by_the_ground() -> Result<()> {
    let mut scene = Scene::read(&root().join("sample-frames/hatchback.toml"))?;
    (scene.before_s, scene.after_s) = (0.05, 0.03);
    scene.cameras.retain(|camera| camera.id == "side");
    scene.targets.retain(|target| target.camera == "side");
    scene.paints.retain(|paint| paint.camera == "side");
    scene.dust.clear();
    scene.channels.clear();
    scene.flash.bulbs.retain(|bulb| bulb.0 == "side");
    scene.cameras[0].shake =
        Some(ShakeSetup { pan_px: 15.0, tilt_px: 10.0, roll_deg: 0.2, frequency_hz: 14.0 });
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    filmgauge_cli::rehearse(scene, folder.path(), Encoding::Ffv1, &Unwatched)?;
    let shaken = Copy::of(folder.path())?;
    let (error, _) = contact_speed(&shaken, &measured(&shaken)?)?;
    ensure!(error.abs() > 0.3, "as it shakes the speed must be off, or nothing is shown: {error}");
    shaken.edit("\nboard = {", "\nsteady = { by = \"ground\" }\nboard = {")?;
    let results = measured(&shaken)?;
    let (error, u) = contact_speed(&shaken, &results)?;
    ensure!(error.abs() < 2.6 * u && u < 0.06, "steadied: {error} ± {u}");
    let lines = &results.cameras[0].lines;
    ensure!(lines.iter().any(|(_, text)| text.contains("swing of the camera")), "{lines:?}");
    Ok(())
}

#[test]
fn a_mark_beside_its_body_lies_off_it_on_that_side() -> Result<()> {
    let copy = Copy::new()?;
    let truth = copy.text("truth/marks.csv")?;
    let head: Vec<&str> = truth.lines().next().context("a head")?.split(',').collect();
    let at = |name: &str| head.iter().position(|column| *column == name).context(name.to_owned());
    let (target, frame, x, y) = (at("target")?, at("frame")?, at("x_px")?, at("y_px")?);
    let row = truth.lines().skip(1).map(|line| line.split(',').collect::<Vec<_>>());
    let row =
        row.into_iter().find(|row| row[target] == "C2" && row[frame] == "30").context("C2 in frame 30")?;
    let (x, y): (f64, f64) = (row[x].parse()?, row[y].parse()?);
    std::fs::create_dir_all(copy.path("picks"))?;
    let marked = format!("frame,target,x_px,y_px\n30,C2,{},{}\n", x + 1.5, y + 0.8);
    copy.put("picks/side.csv", marked)?;
    let results = measured(&copy)?;
    let mark =
        results.marks.iter().find(|mark| mark.target == "C2" && mark.frame == 30).context("the mark")?;
    let off = (mark.off_x_px.context("off")?, mark.off_y_px.context("off")?);
    ensure!((off.0 - 1.5).abs() < 0.2 && (off.1 - 0.8).abs() < 0.2, "{off:?}, {}", mark.state);
    Ok(())
}
