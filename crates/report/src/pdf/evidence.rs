//! What the findings rest on, on paper: cameras, channels, clocks, marks and gaps, provenance; and where to sign.

use super::content::section;
use super::page::{Composer, Role, What};
use super::table::{CellText, Head, table};
use super::text::{BODY, Ink, Para, SMALL, SOFT, STRONG};
use crate::sheet::SheetView;
use crate::sheet::findings::BudgetView;
use crate::sheet::marks::TargetView;
use crate::sheet::settings::{CameraView, LineView};

/// A fact of a camera longer than this, in letters, has lines of its own.
const LONG: usize = 110;

pub(super) fn cameras(pages: &mut Composer, view: &SheetView) {
    if view.cameras.is_empty() {
        return;
    }
    section(pages, "Cameras", "");
    let rows: Vec<Vec<CellText>> = view.cameras.iter().map(camera).collect();
    table(
        pages,
        &[Head::left("Camera", 1.2), Head::left("How it filmed, and what its figures rest on", 8.5)],
        &rows,
    );
}

/// Short facts run on; a long one has lines of its own.
fn camera(camera: &CameraView) -> Vec<CellText> {
    let mut name = vec![Para::of(&camera.id, STRONG)];
    name.extend((camera.view != camera.id).then(|| Para::of(&camera.view, SOFT)));
    let (short, long): (Vec<_>, Vec<_>) = camera.lines.iter().partition(|line| line.text.len() <= LONG);
    let told = |line: &LineView, end: &str, para: Para| {
        let text = line.text.replace(" ± ", "\u{a0}±\u{a0}");
        para.and(format!("{}: ", line.label), SOFT).and(format!("{text}{end}"), BODY)
    };
    let n = short.len();
    let short = short
        .iter()
        .enumerate()
        .fold(Para::default(), |para, (at, line)| told(line, if at + 1 == n { "" } else { "  ·  " }, para));
    let long = long.iter().map(|line| told(line, "", Para::default()));
    vec![name, std::iter::once(short).filter(|para| !para.runs.is_empty()).chain(long).collect()]
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

/// Error budgets as lines of shares: the page draws them as bars.
pub(super) fn budgets(pages: &mut Composer, view: &SheetView) {
    if view.budgets.is_empty() {
        return;
    }
    section(pages, "Error budgets", view.budget_note);
    let heads = [
        Head::left("Finding", 2.7),
        Head::right("Value ± 95 %", 2.0),
        Head::left("Standard uncertainty and share of variance by source of doubt", 6.0),
    ];
    table(pages, &heads, &view.budgets.iter().map(budget).collect::<Vec<_>>());
}

fn budget(budget: &BudgetView) -> Vec<CellText> {
    let (small, large): (Vec<_>, Vec<_>) = budget.lines.iter().partition(|line| is_small(&line.share));
    let mut parts: Vec<String> = large
        .iter()
        .map(|line| format!("{} {} ({})", line.source, line.u, line.share).replace(' ', "\u{a0}"))
        .collect();
    match &small[..] {
        [] => {}
        [one] => parts.push(format!("{} below 1 %", one.source)),
        more => parts.push(format!("{} more, each below 1 %", more.len())),
    }
    let name = Para::of(format!("{} ", budget.title), STRONG).and(&budget.subject, SOFT);
    let total = Para::of(budget.total.replace(' ', "\u{a0}"), BODY).right();
    vec![vec![name], vec![total], vec![Para::of(parts.join(", "), BODY)]]
}

/// A share that rounds to nothing, or is told to.
fn is_small(share: &str) -> bool {
    share.starts_with('<') || share.starts_with("0 ")
}

/// Targets of a camera that fared alike share a row.
pub(super) fn marks(pages: &mut Composer, view: &SheetView) {
    if view.targets.is_empty() {
        return;
    }
    section(pages, "Marks and gaps", view.marks_note);
    let heads = [
        Head::left("Camera", 1.4),
        Head::left("Targets", 3.0),
        Head::right("Found", 0.8),
        Head::right("By hand", 0.8),
        Head::right("Inferred", 0.8),
        Head::left("Gaps", 3.4),
    ];
    let mut alike: Vec<(&TargetView, Vec<&str>)> = Vec::new();
    for target in &view.targets {
        let key = |target: &TargetView| {
            let gaps: Vec<_> =
                target.gaps.iter().map(|gap| (gap.frames.clone(), gap.cause.clone())).collect();
            (target.camera.clone(), [target.found, target.hand, target.inferred], gaps)
        };
        match alike.iter_mut().find(|(known, _)| key(known) == key(target)) {
            Some((_, names)) => names.push(&target.target),
            None => alike.push((target, vec![&target.target])),
        }
    }
    let rows: Vec<Vec<CellText>> = alike
        .iter()
        .map(|(target, names)| {
            let count = |n: usize| vec![Para::of(n.to_string(), BODY).right()];
            let gaps: Vec<String> =
                target.gaps.iter().map(|gap| format!("{} {}", gap.frames, gap.cause)).collect();
            let gaps = if gaps.is_empty() { "none".to_owned() } else { gaps.join(", ") };
            vec![
                vec![Para::of(&target.camera, STRONG)],
                vec![Para::of(names.join(", "), BODY)],
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
