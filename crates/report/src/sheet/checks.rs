//! Rows of the table of film against channels.

use crate::display::{ShownUnit, shown, typeset, units_of_finding};
use crate::rounding::significant;
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{AgreementFigures, BesideResult, CrosscheckResult, UnitSystem, ValueAndU};
use serde::Serialize;

/// One channel. Texts are empty where there is no number.
#[derive(Serialize)]
pub(crate) struct CrosscheckView {
    pub(crate) channel: String,
    pub(crate) body: String,
    pub(crate) state: &'static str,
    pub(crate) sign: &'static str,
    pub(crate) gain: String,
    pub(crate) offset: String,
    pub(crate) lag: String,
    pub(crate) residual: String,
    pub(crate) agreement: String,
    pub(crate) verdict: String,
    pub(crate) suspected: Vec<FaultView>,
    pub(crate) figures: String,
    pub(crate) beside: Vec<String>,
    pub(crate) zero: String,
    pub(crate) reason: String,
}

#[derive(Serialize)]
pub(crate) struct FaultView {
    pub(crate) fault: String,
    pub(crate) evidence: String,
    pub(crate) look_at: String,
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
        beside: check.beside.iter().map(beside_words).collect(),
        zero: check.zero.as_ref().map(|zero| typeset(&zero.text)).unwrap_or_default(),
        reason: check.reason.clone().unwrap_or_default(),
    }
}

/// One channel against another of its place in a sentence, for sheet, desk and command line.
#[must_use]
pub fn beside_words(beside: &BesideResult) -> String {
    let line = |name: &str, figure: Option<ValueAndU>, factor: f64, decimals: usize, unit: &str| {
        figure.map(|ValueAndU { value, uncertainty }| {
            let (value, half) = (factor * value, factor * COVERAGE_95 * uncertainty);
            let space = if unit.is_empty() { "" } else { " " };
            typeset(&format!("{name} {value:.decimals$} ± {half:.decimals$}{space}{unit}"))
        })
    };
    let unit = if beside.unit == "m/s2" { "m/s²" } else { beside.unit.as_str() };
    let figures: Vec<String> = [
        line("gain", beside.gain, 1.0, 4, ""),
        line("offset", beside.offset, 1.0, 3, unit),
        line("lag", beside.lag_s, 1e3, 3, "ms"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let reason = beside.reason.iter().map(|reason| format!(": {reason}"));
    let faults = beside.suspected.iter().map(|suspect| format!("; {}: {}", suspect.fault, suspect.evidence));
    let rest: String = reason.chain(faults).collect();
    let figures = if figures.is_empty() { String::new() } else { format!(" ({})", figures.join(", ")) };
    format!("beside {}: {}{figures}{rest}", beside.channel, beside.verdict)
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

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_results::SuspectedFault;

    #[test]
    fn a_pair_is_told_in_one_sentence() {
        let mut beside = BesideResult {
            channel: "A2".into(),
            gain: Some(ValueAndU { value: 1.06, uncertainty: 0.002 }),
            offset: Some(ValueAndU { value: -0.1, uncertainty: 0.05 }),
            unit: "m/s2".into(),
            lag_s: None,
            agreement: Some(1.0),
            correlation: Some(0.99),
            verdict: "both do not agree: gain".into(),
            suspected: vec![SuspectedFault {
                fault: "gain".into(),
                evidence: "1.06 times".into(),
                look_at: String::new(),
            }],
            reason: None,
        };
        assert_eq!(
            beside_words(&beside),
            "beside A2: both do not agree: gain (gain 1.0600 ± 0.0039, offset −0.100 ± 0.098 m/s²); gain: 1.06 times"
        );
        (beside.gain, beside.offset, beside.suspected) = (None, None, Vec::new());
        (beside.verdict, beside.reason) = ("not compared".into(), Some("they sit apart".into()));
        assert_eq!(beside_words(&beside), "beside A2: not compared: they sit apart");
    }
}
