//! The sheet's head: which test, in which axes and units, how it went, and what a person must look at.

use crate::words::{axes_text, severity_sign};
use filmgauge_results::{Notice, Results, Severity, UnitSystem};
use serde::Serialize;

/// Head of the page.
#[derive(Serialize)]
pub(crate) struct HeadView {
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) comment: String,
    pub(crate) axes: String,
    pub(crate) units: &'static str,
    pub(crate) program: String,
    pub(crate) status: Vec<String>,
    pub(crate) needs_person: bool,
}

/// One notice.
#[derive(Serialize)]
pub(crate) struct NoticeView {
    pub(crate) class: &'static str,
    pub(crate) sign: &'static str,
    pub(crate) word: &'static str,
    pub(crate) place: String,
    pub(crate) text: String,
    pub(crate) remedy: String,
}

pub(super) fn head(results: &Results) -> HeadView {
    let test = &results.test;
    HeadView {
        id: test.id.clone(),
        title: if test.title.is_empty() { "Untitled test".to_owned() } else { test.title.clone() },
        comment: test.comment.clone(),
        axes: axes_text(&test.axes),
        units: match test.units {
            UnitSystem::Si => "SI, on this sheet and in the files",
            UnitSystem::Us => "US customary on this sheet, SI in the files",
        },
        program: results.provenance.program.clone(),
        status: status(results),
        needs_person: results.needs_person(),
    }
}

fn status(results: &Results) -> Vec<String> {
    let made = results.findings.iter().filter(|finding| finding.value.is_some()).count();
    // What the test does not hold cannot be made and is not missing.
    let wanted = results.findings.iter().filter(|finding| !finding.absent).count();
    let mut status = vec![match wanted {
        0 => "No findings".to_owned(),
        all if all == made => format!("{} made", counted(made, "finding", "findings")),
        all => format!("{made} of {} made", counted(all, "finding", "findings")),
    }];
    if !results.crosschecks.is_empty() {
        let all = results.crosschecks.len();
        let doubted = results.crosschecks.iter().filter(|check| check.needs_person()).count();
        status.push(match doubted {
            0 => format!("{} checked against film, none to look at", counted(all, "channel", "channels")),
            _ => format!("{doubted} of {} to look at", counted(all, "channel", "channels")),
        });
    }
    let persons = results.notices.iter().filter(|notice| notice.severity == Severity::Person).count();
    status.push(match persons {
        0 => "no notice asks for a person".to_owned(),
        1 => "1 notice asks for a person".to_owned(),
        many => format!("{many} notices ask for a person"),
    });
    status
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// Notices that need a person, then warnings.
pub(super) fn urgent(notices: &[Notice]) -> Vec<NoticeView> {
    [Severity::Person, Severity::Warning].into_iter().flat_map(|severity| of(notices, severity)).collect()
}

/// Notices that are good to know.
pub(super) fn notes(notices: &[Notice]) -> Vec<NoticeView> {
    of(notices, Severity::Note).collect()
}

fn of(notices: &[Notice], severity: Severity) -> impl Iterator<Item = NoticeView> {
    notices.iter().filter(move |notice| notice.severity == severity).map(|notice| NoticeView {
        class: match notice.severity {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Person => "person",
        },
        sign: severity_sign(notice.severity),
        word: notice.severity.word(),
        place: notice.place.clone(),
        text: notice.text.clone(),
        remedy: notice.remedy.clone(),
    })
}
