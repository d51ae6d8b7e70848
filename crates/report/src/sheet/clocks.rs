//! The clocks of cameras and sensors against each other, as the sheet shows them.

use crate::display::{shown, typeset};
use filmgauge_results::ClocksResult;
use serde::Serialize;

/// The section on clocks.
#[derive(Serialize)]
pub(crate) struct ClocksView {
    pub(crate) reference: String,
    pub(crate) clocks: Vec<ClockView>,
    pub(crate) ties: Vec<TieView>,
    pub(crate) notes: Vec<String>,
}

#[derive(Serialize)]
pub(crate) struct ClockView {
    pub(crate) clock: String,
    pub(crate) offset: String,
}

#[derive(Serialize)]
pub(crate) struct TieView {
    pub(crate) tie: String,
    pub(crate) left_over: Option<String>,
    pub(crate) ratio: Option<String>,
    pub(crate) reason: Option<String>,
}

/// Clocks in the order of the results, in milliseconds.
pub(super) fn clocks(result: &ClocksResult) -> ClocksView {
    let in_ms = |seconds: f64| seconds * 1e3;
    let clock = |clock: &filmgauge_results::ClockResult| ClockView {
        clock: clock.clock.clone(),
        offset: if clock.clock == result.reference {
            "reference".into()
        } else {
            shown(in_ms(clock.offset_s), Some(in_ms(clock.uncertainty_s))).typeset().line("ms")
        },
    };
    let tie = |tie: &filmgauge_results::ClockTieResult| TieView {
        tie: tie.tie.clone(),
        left_over: tie
            .residual_s
            .map(|residual_s| typeset(&format!("{:.3} ms", in_ms(residual_s)).replace("-0.000 ", "0.000 "))),
        ratio: tie.ratio.map(|ratio| typeset(&format!("{ratio:.1}").replace("-0.0", "0.0"))),
        reason: tie.reason.clone(),
    };
    ClocksView {
        reference: result.reference.clone(),
        clocks: result.clocks.iter().map(clock).collect(),
        ties: result.ties.iter().map(tie).collect(),
        notes: result.notes.clone(),
    }
}
