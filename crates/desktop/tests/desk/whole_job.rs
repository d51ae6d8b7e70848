//! From a film to the sheet: a newcomer's way through the form on the sample's side film, with the truth at its end.

use crate::hands::{Hands, sample};
use eframe::egui::{Key, Modifiers};
use filmgauge_results::Finding;

/// Size of the side film, px.
const SIZE: [f32; 2] = [1280.0, 448.0];

#[test]
fn a_newcomer_comes_from_the_film_to_the_sheet_and_back() {
    let mut hands = Hands::new();
    let folder = hands.folder.path().join("films");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::copy(sample().join("footage/side.mkv"), folder.join("side.mkv")).unwrap();
    let lens = folder.join("side-lens.toml");
    std::fs::copy(sample().join("lenses/side.toml"), &lens).unwrap();

    hands.enter("Path of a film or of a dossier", &folder.join("side.mkv").display().to_string());
    assert!(hands.shows("Film of camera side, frame 0"), "{:?}", hands.names("Film of"));
    let dossier = folder.join("side-dossier/dossier.toml");
    let first_text = std::fs::read_to_string(&dossier).unwrap();

    times(&mut hands);
    hands.line("Camera, side");
    hands.enter("Lens file", "../side-lens.toml");
    board(&mut hands);
    targets(&mut hands);
    hands.line("Crush lines");
    crush(&mut hands);

    hands.press("Measure");
    assert!(hands.said().starts_with("Measured in"), "{}", hands.said());
    figures(&hands);

    doubt(&mut hands);
    hands.press("Measure again");
    mend(&mut hands);
    let kept = keep(&mut hands);
    hands.press("Measure again");
    is_kept(&hands, &kept);
    let results = hands.harness.state().results().unwrap();
    assert!(results.marks.iter().any(|mark| mark.state == "hand"));
    let sheet = std::fs::read_to_string(folder.join("side-dossier/results/sheet.html")).unwrap();
    assert!(sheet.contains("Speed at contact"));
    on_paper(&mut hands, &folder.join("side-dossier/results"));

    there_and_back(&mut hands, &first_text, &dossier);
}

/// Sheet, paper and tables are opened by keys and by the list of acts.
fn on_paper(hands: &mut Hands, results: &std::path::Path) {
    for name in ["sheet.pdf", "results.xlsx", "motion.parquet", "tables.json"] {
        assert!(results.join(name).is_file(), "{name}");
    }
    hands.key(Modifiers::SHIFT, Key::F6);
    assert!(hands.said().starts_with("The sheet on paper: "), "{}", hands.said());
    hands.key(Modifiers::NONE, Key::F6);
    assert!(hands.said().starts_with("The sheet: "), "{}", hands.said());
}

/// Speed, exposure and zero.
fn times(hands: &mut Hands) {
    hands.line("Film speed, side");
    hands.enter("Frames a second", "1000");
    assert!(hands.shows("Film speed, side: done, 1000 frames/s"));
    hands.enter("Standard uncertainty, share of it", "1e-5");
    hands.line("Exposure, side");
    hands.enter("Exposure, ms", "0.2");
    hands.line("Time zero, side");
    hands.choose("Marked by", "the flash");
    assert!(hands.shows("Time zero, side: done, by the flash"));
    hands.line("Test: ");
    hands.choose("Contact is", "time zero");
}

fn board(hands: &mut Hands) {
    hands.line("Board, side");
    hands.enter("Length, m", "2");
    hands.enter("Standard uncertainty of the length, m", "0.0005");
    hands.press("Show both ends in the film");
    let from = hands.at(SIZE, [155.71, 79.74]);
    hands.press_at(from);
    hands.press("Accept");
    let to = hands.at(SIZE, [404.011, 78.078]);
    hands.press_at(to);
    hands.key(Modifiers::NONE, Key::Enter);
    assert!(hands.shows("Board, side: done, 2 m"), "{}", hands.said());
    hands.enter("Distance from the camera, m", "14.0233");
    hands.enter("Standard uncertainty of the distance, m", "0.01");
    let document = hands.harness.state().document().unwrap();
    let board = document.camera[0].board.as_ref().unwrap();
    assert!((board.from_px[0] - 155.71).abs() < 0.01 && (board.to_px[1] - 78.078).abs() < 0.01, "{board:?}");
}

/// Whether a place of the picture is on a body, px.
type IsOn = fn(f32, f32) -> bool;

/// Bodies, and the targets that are found, each on its body.
fn targets(hands: &mut Hands) {
    hands.line("Bodies");
    for body in ["car", "truck", "ground"] {
        hands.enter("Add a body", body);
    }
    hands.line("Body car");
    hands.enter("Mass, kg", "1180");
    hands.choose("Part in the test", "the vehicle that runs up");
    hands.line("Body truck");
    hands.enter("Mass, kg", "9400");
    hands.choose("Part in the test", "the vehicle that is struck");
    hands.line("Body ground");
    hands.choose("Part in the test", "ground: does not move");
    hands.line("Targets, side");
    hands.press("Find targets in this frame");
    let plans: [(&str, &str, IsOn); 3] = [
        ("car", "0.8224", |x, y| x < 600.0 && (260.0..320.0).contains(&y)),
        ("truck", "1.1988", |x, y| x > 900.0 && y < 260.0),
        ("ground", "1.5985", |_, y| y > 380.0),
    ];
    hands.enter("Standard uncertainty of that, m", "0.004");
    for (body, offset, is_on) in plans {
        hands.choose("New targets are on body", body);
        hands.enter("New targets lie in front of the board, m", offset);
        while let Some((n, _)) = found(hands).into_iter().find(|(_, [x, y])| is_on(*x, *y)) {
            hands.press(&format!("Take {n}"));
        }
    }
    let document = hands.harness.state().document().unwrap();
    let count = |body: &str| document.target.iter().filter(|target| target.body == body).count();
    assert_eq!(["car", "truck", "ground"].map(count), [5, 4, 3]);
}

/// Numbers and places of the quadrants that wait, as their lines say, px.
fn found(hands: &Hands) -> Vec<(usize, [f32; 2])> {
    let place = |name: &String| {
        let (n, rest) = name.split_once("quadrant at ")?;
        let mut numbers = rest.split(", ").filter_map(|part| part.parse::<f32>().ok());
        Some((n.trim().parse().ok()?, [numbers.next()?, numbers.next()?]))
    };
    hands.names(" at ").iter().filter_map(place).collect()
}

/// The target nearest to the struck vehicle is in the crush zone.
fn crush(hands: &mut Hands) {
    let document = hands.harness.state().document().unwrap();
    let cars = document.target.iter().filter(|target| target.body == "car");
    let front = cars.max_by(|a, b| a.start.px[0].total_cmp(&b.start.px[0])).unwrap().clone();
    hands.press_at(hands.at(SIZE, front.start.px.map(|px| px as f32)));
    hands.enter(&format!("Name of the line measured by {}", front.id), "front");
    assert!(hands.shows("Crush front: done"), "{:?}", hands.names("Crush"));
}

/// The figures against the rehearsal's truth.
fn figures(hands: &Hands) {
    let truth = std::fs::read_to_string(sample().join("truth/findings.json")).unwrap();
    let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
    let results = hands.harness.state().results().unwrap();
    let finding = |name: &str| -> &Finding {
        let found = results.findings.iter().find(|finding| finding.name == name && finding.value.is_some());
        found.unwrap_or_else(|| panic!("no {name}: {:?}", hands.names("needs a person")))
    };
    for (name, key, within) in [
        ("contact_speed", "contact_speed_m_s", 0.03),
        ("pitch_up_max", "pitch_up_max_deg", 0.1),
        ("crush_max", "crush_max_m", 0.006),
    ] {
        let (value, truth) = (finding(name).value.unwrap(), truth[key].as_f64().unwrap());
        assert!((value - truth).abs() < within, "{name}: {value} for {truth}");
    }
    assert!(hands.shows("Speed at contact, car, film side: done, 14.4"), "{:?}", hands.names("Speed at"));
}

/// A stretch of a target's marks that are not to be used.
fn doubt(hands: &mut Hands) {
    hands.line("Gaps: ");
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.enter("Frame", "200");
    let name = hands.names("Do not trust ").into_iter().next().unwrap();
    hands.press(&name);
    hands.enter("To frame", "204");
    hands.choose("Cause", "hidden");
    assert!(hands.shows("The figures are older than the dossier"));
}

/// A mark by hand in a gap.
fn mend(hands: &mut Hands) {
    assert!(hands.shows(": hidden, frames 200 to 204"), "{:?}", hands.names("hidden"));
    let names = hands.names("Mend ");
    let name = names.iter().find(|name| name.ends_with(" at 200")).expect("a gap to mend").clone();
    hands.press(&name);
    let target = name.split_whitespace().nth(1).unwrap().to_owned();
    assert!(hands.shows("Accept"), "the point is in hand where the target was last");
    hands.key(Modifiers::NONE, Key::ArrowRight);
    hands.key(Modifiers::SHIFT, Key::ArrowLeft);
    hands.press("Accept");
    assert!(hands.shows(&format!("{target} at x")), "{:?}", hands.names(&target));
    assert!(hands.shows("placed by hand"));
    assert!(hands.shows("The figures are older than the dossier"));
}

/// Measured marks that no later measurement is to change: the target and its frames.
fn keep(hands: &mut Hands) -> (String, usize) {
    hands.enter("Frame", "20");
    hands.line("Marks by hand");
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    let name = hands.names("Keep ").into_iter().next().unwrap();
    hands.press(&name);
    let target = name.split_whitespace().nth(1).unwrap().to_owned();
    let let_go = hands.names("Let go of ").into_iter().next().unwrap();
    let n = let_go.split_whitespace().nth(3).unwrap().parse().unwrap();
    (target, n)
}

/// Kept marks, the grid of the plane, the points of the bodies and the loose occupant, as the results hold them.
fn is_kept(hands: &Hands, (target, n): &(String, usize)) {
    let results = hands.harness.state().results().unwrap();
    let by_hand = results.marks.iter().filter(|mark| mark.target == *target && mark.state == "hand").count();
    assert!(by_hand >= *n && *n > 20, "{target}: {by_hand} of {n}");
    let off = results.marks.iter().filter_map(|mark| mark.off_x_px);
    assert!(off.map(f64::abs).fold(0.0, f64::max) < 2.0);
    let drawing = &results.drawings[0];
    assert!(drawing.grid.as_ref().is_some_and(|grid| grid.lines.len() > 6));
    let labels: Vec<&str> = drawing.paths.iter().map(|path| path.label.as_str()).collect();
    assert_eq!(labels, ["car, mean of its targets", "truck, mean of its targets", "loose occupant"]);
    let occupant = &drawing.paths[2].places;
    assert!(occupant.iter().flatten().count() > 50, "from contact to its impact");
    assert!(hands.shows("Off its body to the right of"), "{:?}", hands.names("Off its body"));
}

/// Everything undone is the dossier of the beginning; everything done again is the one of the end.
fn there_and_back(hands: &mut Hands, first_text: &str, dossier: &std::path::Path) {
    hands.key(Modifiers::COMMAND, Key::S);
    let last_text = std::fs::read_to_string(dossier).unwrap();
    let picks = dossier.with_file_name("picks").join("side.csv");
    assert!(picks.is_file());
    hands.act("undo everything");
    hands.key(Modifiers::COMMAND, Key::S);
    assert_eq!(std::fs::read_to_string(dossier).unwrap(), first_text);
    assert!(!picks.is_file());
    hands.act("do everything again");
    hands.key(Modifiers::COMMAND, Key::S);
    assert_eq!(std::fs::read_to_string(dossier).unwrap(), last_text);
    assert!(picks.is_file());
}
