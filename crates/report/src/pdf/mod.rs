//! The sheet as PDF: the same content as the page, set on paper by a composer of its own, with bundled fonts.

mod content;
mod evidence;
mod figures;
mod findings;
pub(crate) mod fonts;
mod page;
mod table;
mod text;
mod write;

use crate::ReportError;
use crate::sheet::{SheetView, sheet_view};
use filmgauge_results::{Results, UnitSystem};
use page::{A4, Composer, LETTER, What};
use text::{Para, SMALL};

/// The sheet as a PDF/A-2b file (ISO 19005-2): A4 in SI units, letter paper in US customary. Fonts are bundled, there is
/// no date in it: the same results give the same bytes on every machine. Letters that the fonts lack are shown as boxes.
///
/// # Errors
/// [`ReportError::NotFinite`] when a number is NaN or infinite; [`ReportError::Make`] when the file cannot be made, which
/// is a fault of this program.
pub fn sheet_pdf(results: &Results) -> Result<Vec<u8>, ReportError> {
    let view = sheet_view(results)?;
    let mut pages = Composer::new(if results.test.units == UnitSystem::Us { LETTER } else { A4 });
    content::compose(&mut pages, &view);
    footers(&mut pages, &view);
    let about = write::About {
        title: format!("{}: sheet of findings", id(&view)),
        subject: view.head.title.clone(),
        program: view.head.program.clone(),
    };
    write::written(&pages, &about)
}

fn id(view: &SheetView) -> &str {
    if view.head.id.is_empty() { "Test" } else { &view.head.id }
}

/// Which test, made by what, and which page of how many: a page that went astray finds home.
fn footers(pages: &mut Composer, view: &SheetView) {
    let n_pages = pages.pages.len();
    let (left, width, y) = (pages.left(), pages.width(), pages.paper.height - 30.0);
    for number in 0..n_pages {
        let name = Para::of(format!("{} · sheet of findings · {}", id(view), view.head.program), SMALL);
        let page = Para::of(format!("page {} of {n_pages}", number + 1), SMALL);
        for (para, to_right) in [(name, false), (page, true)] {
            let Some(line) = para.lines(width * 0.8).into_iter().next() else { continue };
            let x = if to_right { left + width - line.ink_width() } else { left };
            pages.pages[number].push(page::Op { block: None, what: What::Text { x, y, line } });
        }
    }
}

#[cfg(test)]
mod tests;
