//! Tests of the file as a whole: repeatable, on the right paper, and never refused for what people write.

use super::*;
use crate::fixture;
use filmgauge_results::{CameraSummary, MarkRow, Severity, StripPicture};

fn text_of(pages: &Composer) -> String {
    let ops = pages.pages.iter().flatten();
    let lines = ops.filter_map(|op| match &op.what {
        What::Text { line, .. } => {
            let text: String = line.runs.iter().map(|run| run.text.as_str()).collect();
            Some(text.replace('\u{a0}', " ") + "\n")
        }
        _ => None,
    });
    lines.collect()
}

fn composed(results: &Results) -> Composer {
    let view = sheet_view(results).unwrap();
    let mut pages = Composer::new(A4);
    content::compose(&mut pages, &view);
    pages
}

#[test]
fn same_results_same_bytes() {
    let results = fixture::results();
    let one = sheet_pdf(&results).unwrap();
    assert!(one.starts_with(b"%PDF-1.7") && one.len() > 20_000, "{}", one.len());
    assert_eq!(one, sheet_pdf(&results).unwrap());
}

#[test]
fn everything_of_the_sheet_stands_on_paper() {
    let results = fixture::results();
    let pages = composed(&results);
    let text = text_of(&pages);
    for expected in [
        "HB-014",
        "Speed at contact",
        "14.44",
        "± 0.10",
        "km/h",
        "Film against sensors",
        "Suspected:",
        "10CVEHCG0000ACXP",
        "door opens",
        "Picture strip",
        "Error budgets",
        "Marks and gaps",
        "90–118 hidden",
        "Signatures",
        "Measured by",
        "BLAKE3",
        "smooth.degree = 7",
        "not made",
        "Before using these figures",
    ] {
        assert!(text.contains(expected), "{expected} is missing in\n{text}");
    }
    for caution in crate::CAUTIONS {
        assert!(text.replace('\n', "").contains(caution), "{caution}");
    }
    let figures =
        pages.blocks.iter().filter(|role| matches!(role, page::Role::Figure(told) if !told.is_empty()));
    assert!(figures.count() >= results.panels.len() + results.strip.len());
}

/// Twelve cameras with five pictures each, two dozen channels, sixty findings with budgets.
fn twelve_cameras() -> Results {
    let mut results = fixture::results();
    let (camera, channel) = (results.cameras[0].clone(), results.channels[0].clone());
    let (picture, check) = (results.strip[0].clone(), results.crosschecks[1].clone());
    let (finding, mark) = (results.findings[0].clone(), results.marks[0].clone());
    let named = |n: usize| format!("camera-{n:02}");
    results.cameras = (1..=12).map(|n| CameraSummary { id: named(n), ..camera.clone() }).collect();
    results.strip = (0..60)
        .map(|n| StripPicture {
            camera: named(n / 5 + 1),
            after_contact_s: 0.05 * (n % 5) as f64,
            ..picture.clone()
        })
        .collect();
    results.channels = (0..24).map(|_| channel.clone()).collect();
    results.crosschecks = (0..24).map(|_| check.clone()).collect();
    results.findings = (0..60).map(|_| finding.clone()).collect();
    results.marks = (0..96).map(|n| MarkRow { target: format!("C{n}"), ..mark.clone() }).collect();
    results.panels = (0..10).map(|n| results.panels[n % results.panels.len()].clone()).collect();
    results
}

#[test]
fn twelve_cameras_fit() {
    let results = twelve_cameras();
    let pages = composed(&results);
    assert!((10..40).contains(&pages.pages.len()), "{}", pages.pages.len());
    assert_eq!(pages.bookmarks.iter().filter(|mark| mark.level == 2).count(), 14);
    sheet_pdf(&results).unwrap();
}

#[test]
fn nothing_reaches_into_the_margins() {
    for op in composed(&fixture::results()).pages.iter().flatten() {
        if let What::Text { x, y, line } = &op.what {
            assert!(*x >= 39.0 && x + line.ink_width() <= A4.width - 39.0, "{line:?}");
            assert!(*y > 40.0 && *y < A4.height - 40.0, "{line:?}");
        }
    }
}

#[test]
fn us_units_are_on_letter_paper_and_nothing_makes_a_sheet() {
    let mut results = fixture::results();
    results.test.units = UnitSystem::Us;
    let file = sheet_pdf(&results).unwrap();
    let said = String::from_utf8_lossy(&file);
    assert!(said.contains("/MediaBox[0 0 612 792]") || said.contains("/MediaBox [0 0 612 792]"));
    sheet_pdf(&Results::default()).unwrap();
}

#[test]
fn whatever_people_write_the_file_is_made() {
    let mut results = fixture::results();
    results.test.title = "速度 \u{202e}abc\u{0}\u{feff} 🚗 ".repeat(40);
    results.test.id = "\u{1b}[31m<b>&".into();
    results.panels[0].curves[0].label = "車, \u{7} film <&> ".into();
    results.notices[0].text = "x".repeat(20_000);
    results.notices[0].severity = Severity::Person;
    results.cameras[0].lines = (0..500).map(|n| (format!("line {n}"), "text ".repeat(40))).collect();
    sheet_pdf(&results).unwrap();
}

#[test]
fn not_finite_is_refused() {
    let mut results = fixture::results();
    results.findings[0].value = Some(f64::NAN);
    assert!(matches!(sheet_pdf(&results), Err(ReportError::NotFinite { .. })));
}
