//! Marks by hand: whose they are, those of several operators side by side, and measured marks kept as they are.

use super::{Line, State};
use crate::command::{Command, Commands};
use crate::edits::thousandths;
use crate::session::{Session, TargetRef};
use eframe::egui::Ui;
use filmgauge_daybook::{Edit, Pick};
use filmgauge_results::MarkRow;

/// What stands with a kept mark in place of who placed it.
const KEPT: &str = "kept as measured";
/// Most marks kept in one act; each is a line of the file.
const MOST_KEPT: usize = 2000;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let book = &session.workbook;
    let cameras = &session.document().camera;
    let own: usize = cameras.iter().map(|camera| book.picks(&camera.id).len()).sum();
    let mut text = if own == 0 { "none; optional".to_owned() } else { format!("{own} placed or kept") };
    for camera in cameras {
        for (operator, picks) in book.others_picks(&camera.id) {
            text += &format!("; {} by {operator} in {}", picks.len(), camera.id);
        }
    }
    vec![Line::new("hand", "Marks by hand", State::Done(text))]
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
    in_this_frame(ui, session, commands);
    let Some(chosen) = &session.view.target else {
        ui.label("Choose a target to mark it by hand, or to keep its measured marks as they are.");
        return;
    };
    keep(ui, session, chosen, commands);
    let_go(ui, session, chosen, commands);
}

/// Marks of this frame, those of other operators beside the own ones.
fn in_this_frame(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let (camera, frame, book) = (session.camera_id(), session.frame(), &session.workbook);
    let here =
        |picks: &[Pick]| -> Vec<Pick> { picks.iter().filter(|pick| pick.frame == frame).cloned().collect() };
    let own = here(book.picks(camera));
    for pick in &own {
        let by = pick.operator.as_deref().unwrap_or("hand");
        let words = format!("{} ({by}): {:.2}, {:.2} px", pick.target, pick.x_px, pick.y_px);
        if ui.button(words).clicked() {
            let target = TargetRef { camera: camera.to_owned(), target: pick.target.clone() };
            commands.push(Command::Choose(Some(target)));
        }
    }
    for (operator, picks) in book.others_picks(camera) {
        for pick in here(picks) {
            let mut words = format!("{} ({operator}): {:.2}, {:.2} px", pick.target, pick.x_px, pick.y_px);
            if let Some(mine) = own.iter().find(|mine| mine.target == pick.target) {
                let (dx, dy) = (pick.x_px - mine.x_px, pick.y_px - mine.y_px);
                words += &format!("; {dx:+.2} right, {dy:+.2} down of the own one");
            }
            ui.label(words);
        }
    }
}

/// The unbroken stretch of measured marks about this frame becomes marks that no later measurement changes.
fn keep(ui: &mut Ui, session: &Session, chosen: &TargetRef, commands: &mut Commands) {
    let Some(measured) = &session.measured else { return };
    let rows = stretch(measured.marks(&chosen.camera, &chosen.target), session.frame());
    let measured: Vec<&MarkRow> = rows.iter().filter(|row| row.state == "found").take(MOST_KEPT).collect();
    let (Some(first), Some(last)) = (measured.first(), measured.last()) else { return };
    let name = format!("Keep {} as measured, frames {} to {}", chosen.target, first.frame, last.frame);
    ui.label("Kept marks count as placed by hand: no later measurement changes them.");
    if ui.button(&name).clicked() {
        let edits = measured.iter().map(|row| put(row)).collect();
        commands.edit(name, edits);
    }
}

/// Rows in unbroken order of frames about `frame`; none where the target has no mark in it.
fn stretch(rows: &[MarkRow], frame: u32) -> &[MarkRow] {
    let runs = rows.chunk_by(|a, b| b.frame == a.frame + 1);
    let mut holding = runs.filter(|run| run[0].frame <= frame && frame <= run[run.len() - 1].frame);
    holding.next().unwrap_or_default()
}

fn put(row: &MarkRow) -> Edit {
    let u = |u_px: f64| Some(thousandths(u_px).max(0.001));
    let pick = Pick {
        frame: row.frame,
        target: row.target.clone(),
        x_px: thousandths(row.x_px),
        y_px: thousandths(row.y_px),
        sx_px: u(row.sx_px),
        sy_px: u(row.sy_px),
        operator: Some(KEPT.into()),
    };
    Edit::PutPick { camera: row.camera.clone(), pick }
}

/// Kept marks may be measured again.
fn let_go(ui: &mut Ui, session: &Session, chosen: &TargetRef, commands: &mut Commands) {
    let is_kept = |pick: &&Pick| pick.target == chosen.target && pick.operator.as_deref() == Some(KEPT);
    let kept: Vec<&Pick> = session.workbook.picks(&chosen.camera).iter().filter(is_kept).collect();
    if kept.is_empty() {
        return;
    }
    let name = format!("Let go of {} kept marks of {}", kept.len(), chosen.target);
    if ui.button(&name).clicked() {
        let (camera, target) = (&chosen.camera, &chosen.target);
        let remove = |pick: &&Pick| Edit::RemovePick {
            camera: camera.clone(),
            frame: pick.frame,
            target: target.clone(),
        };
        commands.edit(name, kept.iter().map(remove).collect());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_ends_at_a_gap() {
        let row = |frame| MarkRow { frame, ..MarkRow::default() };
        let rows: Vec<MarkRow> = [3, 4, 5, 9, 10].map(row).into();
        let frames = |at| stretch(&rows, at).iter().map(|row| row.frame).collect::<Vec<_>>();
        assert_eq!(frames(4), [3, 4, 5]);
        assert_eq!(frames(10), [9, 10]);
        assert!(frames(7).is_empty());
    }
}
