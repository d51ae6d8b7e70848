//! What the findings rest on, on paper: cameras, channels, clocks, marks and gaps, provenance; and where to sign.

use super::content::section;
use super::page::{Composer, Role, What};
use super::table::{CellText, Head, table};
use super::text::{BODY, Ink, Para, SMALL, SOFT, STRONG};
use crate::sheet::SheetView;

pub(super) fn cameras(pages: &mut Composer, view: &SheetView) {
    if view.cameras.is_empty() {
        return;
    }
    section(pages, "Cameras", "");
    let mut rows: Vec<Vec<CellText>> = Vec::new();
    for camera in &view.cameras {
        let mut name = vec![Para::of(&camera.id, STRONG)];
        name.extend((camera.view != camera.id).then(|| Para::of(&camera.view, SOFT)));
        for (at, line) in camera.lines.iter().enumerate() {
            let name = if at == 0 { std::mem::take(&mut name) } else { Vec::new() };
            rows.push(vec![name, vec![Para::of(&line.label, SOFT)], vec![Para::of(&line.text, BODY)]]);
        }
    }
    table(pages, &[Head::left("Camera", 1.2), Head::left("What", 1.5), Head::left("", 7.0)], &rows);
}

pub(super) fn channels(pages: &mut Composer, view: &SheetView) {
    if view.channels.is_empty() {
        return;
    }
    section(pages, "Channels", "");
    let rows: Vec<Vec<CellText>> = view
        .channels
        .iter()
        .map(|channel| {
            let steps = if channel.steps.is_empty() { "none".to_owned() } else { channel.steps.join("; ") };
            vec![
                vec![Para::of(&channel.code, STRONG)],
                vec![Para::of(&channel.body, BODY)],
                vec![Para::of(steps, BODY)],
            ]
        })
        .collect();
    let heads =
        [Head::left("Channel", 2.0), Head::left("Body", 1.0), Head::left("Steps applied, in order", 6.0)];
    table(pages, &heads, &rows);
}

pub(super) fn clocks(pages: &mut Composer, view: &SheetView) {
    let Some(clocks) = &view.clocks else { return };
    let lead = format!(
        "How the clocks of cameras and recorders stand against that of {}, by everything that ties them.",
        clocks.reference
    );
    section(pages, "Clocks", &lead);
    let rows: Vec<Vec<CellText>> = clocks
        .clocks
        .iter()
        .map(|clock| vec![vec![Para::of(&clock.clock, STRONG)], vec![Para::of(&clock.offset, BODY).right()]])
        .collect();
    table(pages, &[Head::left("Clock", 3.0), Head::right("To be added", 2.0)], &rows);
    pages.skip(8.0);
    let number = |text: &Option<String>| vec![Para::of(text.as_deref().unwrap_or("none"), BODY).right()];
    let rows: Vec<Vec<CellText>> = clocks
        .ties
        .iter()
        .map(|tie| {
            let mut name = vec![Para::of(&tie.tie, STRONG)];
            name.extend(tie.reason.as_ref().map(|reason| Para::of(reason, BODY)));
            vec![name, number(&tie.left_over), number(&tie.ratio)]
        })
        .collect();
    let heads =
        [Head::left("Tie", 4.0), Head::right("Left over", 1.2), Head::right("Over its uncertainty", 1.4)];
    table(pages, &heads, &rows);
    for note in &clocks.notes {
        pages.para(Role::Text, &Para::of(note, SOFT));
    }
}

pub(super) fn marks(pages: &mut Composer, view: &SheetView) {
    if view.targets.is_empty() {
        return;
    }
    section(pages, "Marks and gaps", view.marks_note);
    let heads = [
        Head::left("Target", 1.2),
        Head::left("Camera", 1.2),
        Head::right("Found", 0.8),
        Head::right("By hand", 0.8),
        Head::right("Inferred", 0.8),
        Head::left("Gaps", 5.0),
    ];
    let rows: Vec<Vec<CellText>> = view
        .targets
        .iter()
        .map(|target| {
            let count = |n: usize| vec![Para::of(n.to_string(), BODY).right()];
            let gaps: Vec<String> =
                target.gaps.iter().map(|gap| format!("{} {}", gap.frames, gap.cause)).collect();
            let gaps = if gaps.is_empty() { "none".to_owned() } else { gaps.join(", ") };
            vec![
                vec![Para::of(&target.target, STRONG)],
                vec![Para::of(&target.camera, BODY)],
                count(target.found),
                count(target.hand),
                count(target.inferred),
                vec![Para::of(gaps, BODY)],
            ]
        })
        .collect();
    table(pages, &heads, &rows);
}

/// Lines to sign on, all on one page.
pub(super) fn signatures(pages: &mut Composer, view: &SheetView) {
    const ROW: f32 = 44.0;
    let height = view.signatures.iter().fold(70.0, |height, _| height + ROW);
    pages.keep(height);
    section(pages, "Signatures", view.signatures_note);
    let (left, width) = (pages.left(), pages.width());
    for signature in view.signatures {
        pages.skip(ROW - 12.0);
        let y = pages.y();
        for (label, from, to) in [(*signature, 0.0, 0.6), ("Date", 0.66, 1.0)] {
            let (x, reach) = (left + from * width, left + to * width);
            pages.draw(None, What::Rule { from: (x, y), to: (reach, y), width: 0.7, ink: Ink::Black });
            let block = pages.block(Role::Text);
            let lines = Para::of(label, SOFT).lines(reach - x);
            pages.lines(block, (x, y + 2.0), reach - x, &lines);
        }
        pages.skip(12.0);
    }
}

pub(super) fn provenance(pages: &mut Composer, view: &SheetView) {
    section(pages, "Provenance", view.provenance_note);
    let provenance = &view.provenance;
    if !provenance.inputs.is_empty() {
        let rows: Vec<Vec<CellText>> = provenance
            .inputs
            .iter()
            .map(|input| {
                vec![
                    vec![Para::of(&input.path, BODY)],
                    vec![Para::of(&input.bytes, BODY).right()],
                    vec![Para::of(&input.blake3, SMALL)],
                ]
            })
            .collect();
        let heads = [Head::left("Input", 3.0), Head::right("Bytes", 1.1), Head::left("BLAKE3", 4.4)];
        table(pages, &heads, &rows);
    }
    if !provenance.settings.is_empty() {
        pages.skip(8.0);
        pages.heading(3, "Settings", &Para::of("Settings", STRONG), 30.0);
        for setting in &provenance.settings {
            pages.para(Role::Text, &Para::of(setting, SMALL));
        }
    }
}
