//! `crosscheck`: film against every channel of a dossier, one page each: figures, verdict, evidence, what to look at.

use super::measure::measured;
use crate::exit::Exit;
use filmgauge_dossier::RunOptions;
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{CrosscheckResult, ValueAndU};
use std::io::Write;
use std::path::Path;

pub(super) fn crosscheck(
    dossier: &Path,
    threads: Option<usize>,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let checks = measured(dossier, RunOptions { threads, ..RunOptions::default() })?.1.crosschecks;
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&checks)?)?;
    } else if checks.is_empty() {
        writeln!(out, "The dossier has no channel.")?;
    }
    if !json {
        checks.iter().try_for_each(|check| page(check, out))?;
    }
    Ok(Exit::person_if(checks.iter().any(CrosscheckResult::needs_person)))
}

fn page(check: &CrosscheckResult, out: &mut dyn Write) -> std::io::Result<()> {
    writeln!(out, "{} on {}: {}", check.channel, check.body, check.verdict)?;
    if let Some(reason) = &check.reason {
        writeln!(out, "  {reason}")?;
    }
    let rows = [("gain", check.gain, ""), ("offset", check.offset_m_s2, " m/s²"), ("lag", check.lag_s, " s")];
    for (name, value, unit) in rows {
        if let Some(ValueAndU { value, uncertainty }) = value {
            writeln!(out, "  {name:10} {value:.5} ± {:.5}{unit}", COVERAGE_95 * uncertainty)?;
        }
    }
    if let (Some(rms_m), Some(agreement)) = (check.residual_rms_m, check.agreement) {
        let rms_mm = 1e3 * rms_m;
        writeln!(
            out,
            "  {:10} {rms_mm:.2} mm RMS, {agreement:.2} times what was to be expected",
            "left over"
        )?;
    }
    for suspect in &check.suspected {
        writeln!(out, "  suspected: {}. {}", suspect.fault, suspect.evidence)?;
        writeln!(out, "    look at {}", suspect.look_at)?;
    }
    for tried in &check.explanations {
        let (fault, above, agreement) = (&tried.fault, tried.bic_above_best, tried.agreement);
        writeln!(
            out,
            "  tried {fault:14} criterion {above:10.1} above the best, left over {agreement:.2} times"
        )?;
    }
    if let Some(figures) = &check.figures {
        writeln!(out, "  {}", filmgauge_report::agreement_words(figures))?;
    }
    for beside in &check.beside {
        writeln!(out, "  {}", filmgauge_report::beside_words(beside))?;
    }
    if let Some(zero) = &check.zero {
        writeln!(out, "  {}", zero.text)?;
    }
    for step in &check.steps {
        writeln!(out, "  step: {step}")?;
    }
    writeln!(out)
}
