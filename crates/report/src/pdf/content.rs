//! What stands on paper, in reading order: head and cautions, what to look at first, findings, then what they rest on.

use super::evidence;
use super::figures;
use super::findings;
use super::fonts::Face;
use super::page::{Composer, Role, What};
use super::table::{CellText, Head, table};
use super::text::{ALARM, BODY, Ink, Para, SMALL, SOFT, STRONG, Style};
use crate::sheet::SheetView;
use crate::sheet::checks::CrosscheckView;
use crate::sheet::head::NoticeView;

const TITLE: Style = Style { face: Face::Bold, size: 17.0, ink: Ink::Black };
const SECTION: Style = Style { face: Face::Bold, size: 12.5, ink: Ink::Black };
const EYEBROW: Style = Style { ink: Ink::Accent, ..BODY };
/// Channel codes, which must not be parted.
const CODE: Style = Style { size: 7.6, ..STRONG };
/// What a heading keeps with itself on its page.
const BELOW: f32 = 70.0;

/// Everything.
pub(super) fn compose(pages: &mut Composer, view: &SheetView) {
    head(pages, view);
    cautions(pages, view);
    if !view.urgent.is_empty() {
        section(pages, "To look at first", "");
        notices(pages, &view.urgent);
    }
    findings::findings(pages, view);
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
    evidence::budgets(pages, view);
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

/// Small, but before every figure.
fn cautions(pages: &mut Composer, view: &SheetView) {
    pages.skip(3.0);
    let title = "Before using these figures";
    let small = Style { size: SMALL.size, ..STRONG };
    let told = view.cautions.join(" ");
    pages.para(Role::Text, &Para::of(format!("{title}. "), small).and(told, SMALL));
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

/// The figures of all channels in one table, then what is to be said of each over the page's width.
fn crosschecks(pages: &mut Composer, checks: &[CrosscheckView]) {
    let heads = [
        Head::left("Channel", 2.35),
        Head::left("Verdict", 1.75),
        Head::right("Gain", 1.95),
        Head::right("Offset", 2.4),
        Head::right("Later than film", 1.9),
        Head::right("Left over", 1.0),
        Head::right("Agreement", 1.3),
    ];
    let row = |check: &CrosscheckView| -> Vec<CellText> {
        let style = if check.state == "doubted" { ALARM } else { STRONG };
        let verdict = vec![Para::of(format!("{} ", check.sign), style).and(&check.verdict, BODY)];
        let number = |text: &String| {
            vec![if text.is_empty() { Para::of("none", SOFT) } else { Para::of(kept(text), BODY) }.right()]
        };
        let numbers = [&check.gain, &check.offset, &check.lag, &check.residual, &check.agreement].map(number);
        let name = [vec![Para::of(&check.channel, CODE), Para::of(&check.body, SOFT)], verdict];
        name.into_iter().chain(numbers).collect()
    };
    table(pages, &heads, &checks.iter().map(row).collect::<Vec<_>>());
    for check in checks {
        let mut told = Para::of(format!("{}  ", check.channel), CODE);
        for fault in &check.suspected {
            let about = format!("{}. Look at {}. ", fault.evidence, fault.look_at);
            told = told.and(format!("Suspected: {}. ", fault.fault), ALARM).and(about, BODY);
        }
        let more = [&check.figures].into_iter().chain(&check.beside).chain([&check.zero, &check.reason]);
        let more: Vec<&str> = more.map(|text| text.trim()).filter(|text| !text.is_empty()).collect();
        if check.suspected.is_empty() && more.is_empty() {
            continue;
        }
        pages.skip(3.0);
        pages.para(Role::Text, &told.and(more.join(". "), SMALL));
    }
}

/// A number with ± and unit, never parted at the end of a line.
fn kept(number: &str) -> String {
    number.replace(' ', "\u{a0}")
}
