//! Findings on paper: one line each, in groups by camera and source; how they were found and what to mind stand once, as
//! numbered notes below, since many findings share them.

use super::content::section;
use super::page::{Composer, Role};
use super::table::{CellText, Head, table};
use super::text::{ALARM, BODY, Ink, Para, SMALL, SOFT, STRONG, Style};
use crate::sheet::SheetView;
use crate::sheet::findings::FindingView;

const VALUE: Style = Style { size: 9.0, ..STRONG };
/// Notes that warn.
const WARNED: Style = Style { ink: Ink::Alarm, ..SMALL };
/// What a group's heading keeps with itself on its page.
const BELOW: f32 = 60.0;
/// Findings that stand in a table of their own.
const OF_CHANNELS: &str = "crosscheck_";

/// Notes in order of their first use; each stands once.
#[derive(Default)]
struct Notes {
    texts: Vec<(String, bool)>,
}

impl Notes {
    /// Number of a note, from 1.
    fn number(&mut self, text: &str, warns: bool) -> usize {
        let known = self.texts.iter().position(|(known, _)| known == text);
        known.map_or_else(
            || {
                self.texts.push((text.to_owned(), warns));
                self.texts.len()
            },
            |at| at + 1,
        )
    }
}

/// All findings with their notes.
pub(super) fn findings(pages: &mut Composer, view: &SheetView) {
    section(pages, "Findings", if view.findings.is_empty() { "" } else { view.interval_note });
    if view.findings.is_empty() {
        pages.para(Role::Text, &Para::of("No findings were asked for.", SOFT));
        return;
    }
    let (of_channels, own): (Vec<&FindingView>, Vec<&FindingView>) =
        view.findings.iter().partition(|finding| finding.name.starts_with(OF_CHANNELS));
    let mut notes = Notes::default();
    let mut groups: Vec<(String, Vec<&FindingView>)> = Vec::new();
    for finding in own {
        let name = group(finding);
        match groups.iter_mut().find(|(known, _)| *known == name) {
            Some((_, group)) => group.push(finding),
            None => groups.push((name, vec![finding])),
        }
    }
    for (name, findings) in &groups {
        pages.skip(5.0);
        pages.heading(3, name, &Para::of(name, STRONG), BELOW);
        let rows: Vec<Vec<CellText>> = findings.iter().map(|finding| row(finding, &mut notes)).collect();
        table(pages, &heads(), &rows);
    }
    if !of_channels.is_empty() {
        pages.skip(5.0);
        let told = "Gain, offset and lag of each channel stand under \"Film against sensors\".";
        pages.para(Role::Text, &Para::of(told, SOFT));
    }
    listed(pages, &notes);
}

/// Where a finding comes from.
fn group(finding: &FindingView) -> String {
    let source = match finding.source {
        "film" => "By film",
        "sensor" => "By sensors",
        _ => "By film and sensors together",
    };
    if finding.camera.is_empty() { source.to_owned() } else { format!("{source}, camera {}", finding.camera) }
}

fn heads() -> [Head; 7] {
    [
        Head::left("Finding", 2.9),
        Head::left("Of", 1.1),
        Head::right("Value ± 95 %", 2.1),
        Head::right("The same", 1.75),
        Head::right("Standard uncertainty", 1.2),
        Head::right("Frames", 1.0),
        Head::right("Notes", 0.8),
    ]
}

fn row(finding: &FindingView, notes: &mut Notes) -> Vec<CellText> {
    let mut name = vec![Para::of(&finding.title, STRONG)];
    let (mut value, mut u) = (Para::of("not made", ALARM), Para::default());
    if finding.made {
        value = Para::of(&finding.value, VALUE);
        if !finding.half_width.is_empty() {
            value = value.and(format!("\u{a0}±\u{a0}{}", finding.half_width), BODY);
        }
        value = value.and(format!("\u{a0}{}", finding.unit), SOFT);
        u = match finding.u.as_str() {
            "" => Para::of("not stated", SOFT),
            u => Para::of(u, BODY).and(format!("\u{a0}{}", finding.unit), SOFT),
        };
    } else {
        name.push(Para::of(&finding.reason, WARNED));
    }
    let also = finding.also.replace(' ', "\u{a0}");
    let frames = finding.frames.trim_start_matches("frames ").trim_start_matches("frame ");
    vec![
        name,
        vec![Para::of(&finding.subject, BODY)],
        vec![value.right()],
        vec![Para::of(also, SMALL).right()],
        vec![u.right()],
        vec![Para::of(frames, BODY).right()],
        vec![numbers(finding, notes).right()],
    ]
}

/// Numbers of a finding's notes; one that warns stands out.
fn numbers(finding: &FindingView, notes: &mut Notes) -> Para {
    let mut para = Para::default();
    for (text, warns) in [(&finding.method, false), (&finding.settings, false), (&finding.caution, true)] {
        if text.is_empty() {
            continue;
        }
        let number = notes.number(text, warns);
        let comma = if para.runs.is_empty() { "" } else { ", " };
        let style = if warns { ALARM } else { BODY };
        para = para.and(comma, BODY).and(number.to_string(), style);
    }
    para
}

/// The notes.
fn listed(pages: &mut Composer, notes: &Notes) {
    if notes.texts.is_empty() {
        return;
    }
    pages.skip(8.0);
    let title = "Notes to the findings: how each was found, and what to mind";
    pages.heading(3, title, &Para::of(title, STRONG), BELOW);
    pages.skip(2.0);
    for (at, (text, warns)) in notes.texts.iter().enumerate() {
        let style = if *warns { WARNED } else { SMALL };
        let number = Style { size: SMALL.size, ..STRONG };
        pages.para(Role::Text, &Para::of(format!("{}\u{a0} ", at + 1), number).and(text, style));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_stands_once() {
        let mut notes = Notes::default();
        let numbers = ["a", "b", "a", "c", "b"].map(|text| notes.number(text, false));
        assert_eq!(numbers, [1, 2, 1, 3, 2]);
        assert_eq!(notes.texts.len(), 3);
    }
}
