//! The sheet, its curves and picture strip, and the results files. Shows what `results` holds and computes nothing:
//! it formats numbers, changes units for people, and draws.
//!
//! # Conventions
//! * Files stay SI (degrees for angles); only the sheet and the terminal listing follow the test's units.
//! * A value is printed to two significant digits of its uncertainty; ± is the half-width of the 95 % interval.
//! * A missing value is an empty field in CSV, `null` in JSON and words on the sheet. NaN and infinity are refused.
//! * Same results, same bytes.

mod budget_plot;
mod conventions;
mod display;
mod error;
mod files;
mod finite;
mod formats;
mod lens_picture;
mod listing;
mod marked;
mod pdf;
mod people;
mod plot;
mod raster;
mod rounding;
mod sheet;
mod tables;
mod template;
mod words;

pub use budget_plot::budget_svg_file;
pub use conventions::Convention;
pub use error::ReportError;
pub use files::{Written, write_file, write_results};
pub use formats::results_schema;
pub use lens_picture::lens_svg;
pub use listing::{findings_table, findings_text};
pub use marked::{ColourPicture, FilmResults, MarkedFilm, MarkedLook, Rows};
pub use pdf::sheet_pdf;
pub use people::{BudgetWords, FindingWords, budget_words, finding_words, panel_in_units};
pub use plot::{CurveStyle, curve_styles, panel_svg_file};
pub use raster::{Pixels, Rasterer};
pub use sheet::{agreement_words, beside_words, sheet_html};
pub use template::{STYLE_FILE, TEMPLATE_FILE, write_template};
pub use words::{CAUTIONS, severity_sign};

#[cfg(test)]
mod fixture;
