//! Small pictures of the desk, drawn by the software adapter: what changes in them is looked at by a person.

use crate::hands::{Hands, copy_of_sample};
use eframe::egui::{Key, Modifiers};
use egui_kittest::SnapshotOptions;
use filmgauge_results::{
    CameraSummary, Contribution, Curve, CurveBand, CurvePoint, Evidence, Finding, FindingSource, MarkRow,
    Panel, PanelMarker, Results,
};

/// Size of a picture, points.
const SIZE: [f32; 2] = [1000.0, 640.0];
/// Greatest difference of a pixel's colour, and pixels that may differ more: versions of the adapter round differently.
const THRESHOLD: f32 = 1.5;
const MOST_PIXELS: usize = 300;

fn options() -> SnapshotOptions {
    SnapshotOptions::new().threshold(THRESHOLD).max_failed_pixels(MOST_PIXELS)
}

fn take(hands: &mut Hands, name: &str) {
    if hands.harness.state().document().is_some() {
        // Neither a scratch folder nor a time stays in the status line.
        hands.key(Modifiers::COMMAND, Key::S);
    }
    hands.harness.remove_cursor();
    hands.look();
    hands.harness.snapshot_options(name, &options());
}

fn opened(dark: bool) -> Hands {
    let mut hands = Hands::on(SIZE);
    hands.act(if dark { "dark" } else { "light" });
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands
}

#[test]
fn the_beginning() {
    let mut hands = Hands::on(SIZE);
    hands.act("light");
    take(&mut hands, "beginning");
}

#[test]
fn the_form_and_the_film() {
    let mut hands = opened(false);
    hands.line("Board, side");
    take(&mut hands, "form-light");
    hands.act("cautions");
    take(&mut hands, "cautions");
}

#[test]
fn a_close_up_in_the_dark() {
    let mut hands = opened(true);
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.key(Modifiers::COMMAND, Key::M);
    take(&mut hands, "close-up-dark");
}

#[test]
fn found_targets_wait_and_acts_are_listed() {
    let mut hands = Hands::on(SIZE);
    hands.act("dark");
    hands.begin_with_film();
    hands.line("Bodies");
    hands.enter("Add a body", "car");
    hands.line("Targets, side");
    hands.press("Find targets in this frame");
    take(&mut hands, "found-dark");
    hands.key(Modifiers::COMMAND, Key::P);
    take(&mut hands, "acts-dark");
}

#[test]
fn figures_curves_and_large_text() {
    let mut hands = opened(false);
    hands.harness.state_mut().show(results());
    hands.enter("Frame", "187");
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.line("Speed at contact, car, film side");
    take(&mut hands, "figures-light");
    hands.act("text 150");
    take(&mut hands, "figures-large");
}

/// Invented results, so that pictures do not follow every last digit of a measurement.
fn results() -> Results {
    let mark = |frame: u32| MarkRow {
        camera: "side".into(),
        target: "C1".into(),
        frame,
        time_s: f64::from(frame) * 1e-3 - 0.07,
        x_px: 91.0 + 1.6 * f64::from(frame),
        y_px: 281.0,
        sx_px: 0.04,
        sy_px: 0.04,
        rxy: 0.0,
        state: "found".into(),
        trust: 1.0,
        ..MarkRow::default()
    };
    let budget = [("board reading", 0.008), ("plane offset of car", 0.006)];
    let finding = Finding {
        name: "contact_speed".into(),
        subject: "car".into(),
        source: FindingSource::Film,
        value: Some(14.5),
        unit: "m/s".into(),
        uncertainty: Some(0.01),
        method: "straight line through the run-up".into(),
        evidence: Evidence { camera: Some("side".into()), frames: Some([18, 68]), settings: String::new() },
        budget: budget.map(|(source, u)| Contribution { source: source.into(), u }).to_vec(),
        caution: None,
        reason: None,
        absent: false,
    };
    let speed = |source: &str, slope: f64| {
        let point = |n: u32| {
            let time_s = f64::from(n) * 1e-3 - 0.07;
            CurvePoint { time_s, value: Some(14.5 - slope * time_s.clamp(0.0, 0.15)) }
        };
        let band = (source == "film").then(|| CurveBand { half_width: vec![Some(0.6); 450] });
        let points = (0..450).map(point).collect();
        Curve { label: format!("car, {source}"), source: source.into(), points, band }
    };
    let panel = Panel {
        title: "Speed along the path".into(),
        unit: "m/s".into(),
        curves: vec![speed("film", 100.0), speed("sensor", 107.0)],
        markers: vec![PanelMarker { time_s: 0.0, label: "contact".into() }],
    };
    Results {
        cameras: vec![CameraSummary { id: "side".into(), ..CameraSummary::default() }],
        findings: vec![finding],
        marks: (0..450).map(mark).collect(),
        panels: vec![panel],
        ..Results::default()
    }
}
