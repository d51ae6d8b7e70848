//! Findings and notices as plain text for the terminal.

use crate::people::{reason_words, value_line};
use filmgauge_results::{Finding, Notice, Results, UnitSystem};

/// An aligned table: name, subject, source and value ± half-width of the 95 % interval with its unit; under a finding
/// that was not made, its reason; then the notices. Units follow the test. Ends with a line feed unless empty.
#[must_use]
pub fn findings_text(results: &Results) -> String {
    let mut text = findings_table(&results.findings, results.test.units);
    if !results.notices.is_empty() && !text.is_empty() {
        text.push('\n');
    }
    results.notices.iter().for_each(|notice| text.push_str(&notice_text(notice)));
    text
}

/// The table of findings alone.
#[must_use]
pub fn findings_table(findings: &[Finding], system: UnitSystem) -> String {
    let rows: Vec<[String; 4]> = findings.iter().map(|finding| row(finding, system)).collect();
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let (name, subject, source) = (width(0), width(1), width(2));
    let mut text = String::new();
    for (row, finding) in rows.iter().zip(findings) {
        let line = format!("{:name$}  {:subject$}  {:source$}  {}", row[0], row[1], row[2], row[3]);
        text.push_str(line.trim_end());
        text.push('\n');
        if let Some(reason) = finding.reason.clone().or_else(|| reason_words(finding)) {
            text.push_str(&format!("{:name$}  {}\n", "", printable(&reason)));
        }
    }
    text
}

fn row(finding: &Finding, system: UnitSystem) -> [String; 4] {
    [
        printable(&finding.name),
        printable(&finding.subject),
        finding.source.word().to_owned(),
        value_line(finding, system).map_or_else(|| "not made".to_owned(), |line| printable(&line)),
    ]
}

fn notice_text(notice: &Notice) -> String {
    let head =
        format!("{}: {}: {}", notice.severity.word(), printable(&notice.place), printable(&notice.text));
    if notice.remedy.is_empty() {
        head + "\n"
    } else {
        format!("{head}\n    {}\n", printable(&notice.remedy))
    }
}

/// Control characters could steer the reader's terminal.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    #[test]
    fn columns_align_and_reasons_follow() {
        let text = findings_text(&fixture::results());
        let expected = "contact_speed          car               film    14.44 ± 0.10 m/s\n";
        assert!(text.starts_with(expected), "{text}");
        assert!(text.contains("rebound_speed          car               film    not made\n"), "{text}");
        assert!(text.contains("83.91 mm (uncertainty not stated)\n"), "{text}");
        assert!(text.contains("car leaves the picture before separation\n"), "{text}");
        assert!(text.contains("\nneeds a person: channel 13TRKDECK00ACXP: "), "{text}");
        assert!(text.contains("\n    Check the wiring"), "{text}");
    }

    #[test]
    fn us_units_and_empty_results() {
        let mut results = fixture::results();
        results.test.units = UnitSystem::Us;
        assert!(findings_text(&results).contains("32.31 ± 0.22 mi/h"), "{}", findings_text(&results));
        assert_eq!(findings_text(&Results::default()), "");
    }

    #[test]
    fn control_characters_never_reach_the_terminal() {
        let mut results = fixture::results();
        results.notices[0].text = "a\u{1b}[2Jb".to_owned();
        assert!(!findings_text(&results).contains('\u{1b}'));
    }
}
