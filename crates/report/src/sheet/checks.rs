//! Rows of the table of film against channels.

use crate::display::{ShownUnit, shown, typeset, units_of_finding};
use crate::rounding::significant;
use filmgauge_results::{AgreementFigures, CrosscheckResult, UnitSystem, ValueAndU};
use serde::Serialize;

/// One channel. Texts are empty where there is no number.
#[derive(Serialize)]
pub(super) struct CrosscheckView {
    channel: String,
    body: String,
    state: &'static str,
    sign: &'static str,
    gain: String,
    offset: String,
    lag: String,
    residual: String,
    agreement: String,
    verdict: String,
    suspected: Vec<FaultView>,
    figures: String,
    reason: String,
}

#[derive(Serialize)]
struct FaultView {
    fault: String,
    evidence: String,
    look_at: String,
}

pub(super) fn crosschecks(checks: &[CrosscheckResult], system: UnitSystem) -> Vec<CrosscheckView> {
    checks.iter().map(|check| view(check, system)).collect()
}

fn view(check: &CrosscheckResult, system: UnitSystem) -> CrosscheckView {
    let (state, sign) = if check.reason.is_some() {
        ("unmade", "–")
    } else if check.suspected.is_empty() {
        ("sound", "○")
    } else {
        ("doubted", "▲")
    };
    let unit_of = |stored: &str| units_of_finding(stored, system).0;
    CrosscheckView {
        channel: check.channel.clone(),
        body: check.body.clone(),
        state,
        sign,
        gain: pair(check.gain, unit_of("1")),
        offset: pair(check.offset_m_s2, unit_of("m/s²")),
        lag: pair(check.lag_s, unit_of("s")),
        residual: check.residual_rms_m.map(|rms| alone(rms, unit_of("m"))).unwrap_or_default(),
        agreement: check.agreement.map(|agreement| alone(agreement, None)).unwrap_or_default(),
        verdict: check.verdict.clone(),
        suspected: check
            .suspected
            .iter()
            .map(|suspect| FaultView {
                fault: suspect.fault.clone(),
                evidence: suspect.evidence.clone(),
                look_at: suspect.look_at.clone(),
            })
            .collect(),
        figures: check.figures.as_ref().map(agreement_words).unwrap_or_default(),
        reason: check.reason.clone().unwrap_or_default(),
    }
}

/// The figures of agreement in a sentence, for sheet and desk.
#[must_use]
pub fn agreement_words(figures: &AgreementFigures) -> String {
    let percent = |share: f64| format!("{} %", typeset(&format!("{:.1}", 100.0 * share)));
    let [magnitude, phase, both] = figures.sprague_geers.map(percent);
    let [mean, sd] = figures.residuals.map(percent);
    let en = figures
        .normalised_error
        .map(|en| format!("; normalised error of the whole change {}", typeset(&format!("{en:.2}"))))
        .unwrap_or_default();
    format!(
        "{}: ISO/TS 18571 rating {:.3}, {} (formulas from memory); Sprague and Geers {magnitude} magnitude, {phase} phase, {both} \
         both; residuals {mean} ± {sd}{en}",
        figures.compared, figures.rating, figures.grade
    )
}

fn pair(pair: Option<ValueAndU>, unit: Option<ShownUnit<'_>>) -> String {
    let Some(ValueAndU { value, uncertainty }) = pair else { return String::new() };
    match unit {
        Some(unit) => shown(unit.of(value), Some(unit.of(uncertainty))).typeset().line(unit.text),
        None => shown(value, Some(uncertainty)).typeset().line(""),
    }
}

fn alone(value: f64, unit: Option<ShownUnit<'_>>) -> String {
    match unit {
        Some(unit) => format!("{} {}", typeset(&significant(unit.of(value), 2)), unit.text),
        None => typeset(&significant(value, 2)),
    }
}
