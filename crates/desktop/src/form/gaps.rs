//! Gaps: stretches without marks as measured, and those that the analyst sets.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{append, remove, set};
use crate::session::{Purpose, Session, TargetRef};
use eframe::egui::Ui;
use filmgauge_daybook::Value;
use filmgauge_quantities::GapCause;

const CAUSES: [(GapCause, &str, &str); 6] = [
    (GapCause::Hidden, "hidden", "hidden"),
    (GapCause::OutOfView, "out_of_view", "out of view"),
    (GapCause::Blurred, "blurred", "blurred"),
    (GapCause::Flash, "flash", "flash"),
    (GapCause::DamagedFrame, "damaged_frame", "damaged frame"),
    (GapCause::Rejected, "rejected", "rejected"),
];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let set_by_hand = session.document().gap.len();
    let measured = session.measured.as_ref().map_or(0, |measured| {
        measured.results.gaps.iter().filter(|gap| gap.cause != GapCause::BeforeStart.word()).count()
    });
    let text = format!("{measured} as measured, {set_by_hand} set by hand");
    vec![Line::new("gaps", "Gaps", State::Done(text))]
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
    by_hand(ui, session, commands);
    add(ui, session, commands);
    let Some(measured) = &session.measured else { return };
    let before = GapCause::BeforeStart.word();
    for gap in measured.gaps(session.camera_id()).filter(|gap| gap.cause != before) {
        ui.horizontal_wrapped(|ui| {
            let words =
                format!("{}: {}, frames {} to {}", gap.target, gap.cause, gap.first_frame, gap.last_frame);
            let it = || TargetRef { camera: gap.camera.clone(), target: gap.target.clone() };
            if ui.button(words).clicked() {
                commands.push(Command::Choose(Some(it())));
                commands.push(Command::Evidence(gap.camera.clone(), gap.first_frame));
            }
            if ui.button(format!("Mend {} at {}", gap.target, gap.first_frame)).clicked() {
                commands.push(Command::Evidence(gap.camera.clone(), gap.first_frame));
                commands.push(Command::Choose(Some(it())));
                commands.push(Command::Place(Purpose::Mark));
            }
        });
    }
}

/// Gaps of the dossier.
fn by_hand(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    for (index, gap) in session.document().gap.iter().enumerate() {
        ui.push_id(index, |ui| {
            let [first, last] = gap.frames;
            ui.label(format!("Set by hand: {} in camera {}", gap.target, gap.camera));
            let frames = |first: f64, last: f64| {
                let value: Value = [first, last].map(|frame| frame.max(0.0) as i64).into_iter().collect();
                vec![set("gap", index, "frames", value)]
            };
            let act = format!("gap of {}", gap.target);
            if let Some(frame) = fields::number(ui, "From frame", Some(f64::from(first))) {
                commands.edit(act.clone(), frames(frame, f64::from(last)));
            }
            if let Some(frame) = fields::number(ui, "To frame", Some(f64::from(last))) {
                commands.edit(act.clone(), frames(f64::from(first), frame));
            }
            let causes = CAUSES.map(|(cause, _, word)| (cause, word));
            if let Some(cause) = fields::choice(ui, "Cause", Some(gap.cause), &causes) {
                let word = CAUSES.iter().find(|(known, ..)| *known == cause).map_or("rejected", |it| it.1);
                commands.edit(act.clone(), vec![set("gap", index, "cause", word)]);
            }
            if ui.button("Trust the marks again").clicked() {
                commands.edit(format!("{act} taken out"), vec![remove("gap", index)]);
            }
        });
    }
}

/// A gap of the chosen target, from this frame.
fn add(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let Some(chosen) = &session.view.target else {
        ui.label("Choose a target to set a gap: marks in it that were found or inferred are then not used.");
        return;
    };
    let frame = i64::from(session.frame());
    if ui.button(format!("Do not trust {} from frame {frame}", chosen.target)).clicked() {
        let frames: Value = [frame, frame].into_iter().collect();
        let values = vec![
            ("camera", chosen.camera.as_str().into()),
            ("target", chosen.target.as_str().into()),
            ("frames", frames),
            ("cause", "rejected".into()),
        ];
        commands.edit(format!("gap of {}", chosen.target), vec![append("gap", values)]);
    }
}
