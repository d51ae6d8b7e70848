//! What stands on paper, in reading order: head, what to look at first, findings, cautions, then what they rest on.

use super::evidence;
use super::figures;
use super::fonts::Face;
use super::page::{Composer, Role, What};
use super::table::{CellText, Head, table};
use super::text::{ALARM, BODY, Ink, Para, SMALL, SOFT, STRONG, Style};
use crate::sheet::SheetView;
use crate::sheet::checks::CrosscheckView;
use crate::sheet::findings::FindingView;
use crate::sheet::head::NoticeView;

const TITLE: Style = Style { face: Face::Bold, size: 17.0, ink: Ink::Black };
const SECTION: Style = Style { face: Face::Bold, size: 12.5, ink: Ink::Black };
const EYEBROW: Style = Style { ink: Ink::Accent, ..BODY };
/// Channel codes, which must not be parted.
const CODE: Style = Style { size: 7.6, ..STRONG };
const VALUE: Style = Style { size: 10.0, ..STRONG };
/// What a heading keeps with itself on its page.
const BELOW: f32 = 70.0;

/// Everything.
pub(super) fn compose(pages: &mut Composer, view: &SheetView) {
    head(pages, view);
    if !view.urgent.is_empty() {
        section(pages, "To look at first", "");
        notices(pages, &view.urgent);
    }
    section(pages, "Findings", if view.findings.is_empty() { "" } else { view.interval_note });
    findings(pages, &view.findings);
    cautions(pages, view);
    events(pages, view);
    if !view.crosschecks.is_empty() {
        section(pages, "Film against sensors", view.crosscheck_note);
        crosschecks(pages, &view.crosschecks);
    }
    figures::curves(pages, view);
    figures::strip(pages, view);
    evidence::cameras(pages, view);
    evidence::channels(pages, view);
    evidence::clocks(pages, view);
    figures::budgets(pages, view);
    evidence::marks(pages, view);
    if !view.notes.is_empty() {
        section(pages, "Notes", "");
        notices(pages, &view.notes);
    }
    evidence::signatures(pages, view);
    evidence::provenance(pages, view);
}

/// A section's heading with what to know before reading on.
pub(super) fn section(pages: &mut Composer, title: &str, lead: &str) {
    pages.keep(BELOW + 16.0);
    pages.part(16.0);
    pages.heading(2, title, &Para::of(title, SECTION), BELOW);
    if !lead.is_empty() {
        pages.skip(1.0);
        pages.para(Role::Text, &Para::of(lead, SOFT));
    }
    pages.skip(3.0);
}

fn head(pages: &mut Composer, view: &SheetView) {
    let head = &view.head;
    let id = if head.id.is_empty() { "no test id" } else { &head.id };
    let eyebrow = Para::of("Sheet of findings  /  ", EYEBROW).and(id, Style { face: Face::Bold, ..EYEBROW });
    pages.para(Role::Text, &eyebrow);
    pages.skip(5.0);
    pages.heading(1, &head.title, &Para::of(&head.title, TITLE), 0.0);
    pages.skip(3.0);
    if !head.comment.is_empty() {
        pages.para(Role::Text, &Para::of(&head.comment, SOFT));
    }
    pages.skip(5.0);
    let axes = format!(
        "Film: x along the path; up, left, nose up and nose left are positive. Sensors: {}.",
        head.axes
    );
    let facts = [
        ("Axes", axes.as_str()),
        ("Units", head.units),
        ("Times", "from time zero, at mid-exposure"),
        ("Made by", head.program.as_str()),
    ];
    for (label, text) in facts.into_iter().filter(|(_, text)| !text.is_empty()) {
        pages.para(Role::Text, &Para::of(format!("{label}: "), SOFT).and(text, BODY));
    }
    pages.skip(6.0);
    let (x, y) = (pages.left(), pages.y());
    let ink = if head.needs_person { Ink::Alarm } else { Ink::Accent };
    let to = (x + pages.width(), y);
    pages.draw(None, What::Rule { from: (x, y), to, width: 1.4, ink });
    pages.skip(4.0);
    pages.para(Role::Text, &Para::of(head.status.join("  ·  "), STRONG));
}

fn notices(pages: &mut Composer, notices: &[NoticeView]) {
    for notice in notices {
        pages.skip(3.0);
        let style = if notice.class == "person" { ALARM } else { STRONG };
        let head = Para::of(format!("{} ", notice.sign), style)
            .and(format!("{}  ", notice.place), STRONG)
            .and(notice.word, Style { ink: style.ink, ..SOFT });
        pages.keep(36.0);
        pages.para(Role::Text, &head);
        pages.para(Role::Text, &Para::of(&notice.text, BODY));
        if !notice.remedy.is_empty() {
            pages.para(Role::Text, &Para::of(&notice.remedy, SOFT));
        }
    }
}

fn findings(pages: &mut Composer, findings: &[FindingView]) {
    if findings.is_empty() {
        pages.para(Role::Text, &Para::of("No findings were asked for.", SOFT));
        return;
    }
    let heads = [
        Head::left("Finding", 2.5),
        Head::right("Value ± 95 %", 2.1),
        Head::right("Standard uncertainty", 1.35),
        Head::left("Source and method", 2.9),
        Head::left("Evidence", 2.4),
    ];
    let rows: Vec<Vec<CellText>> = findings.iter().map(finding).collect();
    table(pages, &heads, &rows);
}

fn finding(finding: &FindingView) -> Vec<CellText> {
    let name = vec![Para::of(&finding.title, STRONG), Para::of(&finding.subject, SOFT)];
    let (mut value, mut u) = (Vec::new(), Vec::new());
    if finding.made {
        let mut para = Para::of(&finding.value, VALUE);
        if !finding.half_width.is_empty() {
            para = para.and(format!(" ± {}", finding.half_width), BODY);
        }
        value.push(para.and(format!(" {}", finding.unit), SOFT).right());
        value.extend((!finding.also.is_empty()).then(|| Para::of(&finding.also, SMALL).right()));
        let stated = if finding.u.is_empty() { "not stated".into() } else { format!("{} ", finding.u) };
        let unit = if finding.u.is_empty() { "" } else { finding.unit.as_str() };
        u.push(Para::of(stated, BODY).and(unit, SOFT).right());
    } else {
        value.push(Para::of("not made", ALARM).right());
    }
    let mut method = vec![Para::of(format!("{}. ", finding.source), STRONG).and(&finding.method, BODY)];
    if !finding.made {
        method.insert(0, Para::of("Not made: ", ALARM).and(&finding.reason, BODY));
    }
    if !finding.caution.is_empty() {
        method.push(Para::of(&finding.caution, Style { ink: Ink::Alarm, ..BODY }));
    }
    let mut evidence = vec![Para::of(format!("{} {}", finding.camera, finding.frames).trim(), BODY)];
    evidence.extend((!finding.settings.is_empty()).then(|| Para::of(&finding.settings, SMALL)));
    vec![name, value, u, method, evidence]
}

fn cautions(pages: &mut Composer, view: &SheetView) {
    section(pages, "Before using these figures", "");
    for caution in view.cautions {
        pages.para(Role::Text, &Para::of(format!("–  {caution}"), BODY));
    }
}

fn events(pages: &mut Composer, view: &SheetView) {
    if view.events.is_empty() {
        return;
    }
    section(pages, "Events", view.events_note);
    let heads = [
        Head::left("Event", 2.2),
        Head::right("Time", 1.6),
        Head::left("Known", 0.8),
        Head::left("Camera", 1.1),
        Head::right("Frame", 0.7),
        Head::left("What was seen, or how it was found", 3.2),
    ];
    let row = |event: &crate::sheet::events::EventView| -> Vec<CellText> {
        vec![
            vec![Para::of(&event.id, STRONG)],
            vec![Para::of(kept(&event.time), BODY).right()],
            vec![Para::of(event.how, BODY)],
            vec![Para::of(&event.camera, BODY)],
            vec![Para::of(event.frame.to_string(), BODY).right()],
            vec![Para::of(&event.text, BODY)],
        ]
    };
    table(pages, &heads, &view.events.iter().map(row).collect::<Vec<_>>());
}

fn crosschecks(pages: &mut Composer, checks: &[CrosscheckView]) {
    let heads = [
        Head::left("Channel", 2.35),
        Head::left("Verdict", 2.6),
        Head::right("Gain", 1.75),
        Head::right("Offset", 1.95),
        Head::right("Later than film", 1.75),
        Head::right("Left over", 0.95),
        Head::right("Agreement", 1.2),
    ];
    let row = |check: &CrosscheckView| -> Vec<CellText> {
        let name = vec![Para::of(&check.channel, CODE), Para::of(&check.body, SOFT)];
        let style = if check.state == "doubted" { ALARM } else { STRONG };
        let mut verdict = vec![Para::of(format!("{} ", check.sign), style).and(&check.verdict, BODY)];
        for fault in &check.suspected {
            let about = format!("{}. Look at {}.", fault.evidence, fault.look_at);
            verdict.push(Para::of(format!("Suspected: {}. ", fault.fault), ALARM).and(about, BODY));
        }
        let more = [&check.figures].into_iter().chain(&check.beside).chain([&check.zero, &check.reason]);
        for more in more.filter(|more| !more.is_empty()) {
            verdict.push(Para::of(more, SMALL));
        }
        let number = |text: &String| {
            vec![if text.is_empty() { Para::of("none", SOFT) } else { Para::of(kept(text), BODY) }.right()]
        };
        let numbers = [&check.gain, &check.offset, &check.lag, &check.residual, &check.agreement].map(number);
        [name, verdict].into_iter().chain(numbers).collect()
    };
    table(pages, &heads, &checks.iter().map(row).collect::<Vec<_>>());
}

/// A number with ± and unit, never parted at the end of a line.
fn kept(number: &str) -> String {
    number.replace(' ', "\u{a0}")
}
