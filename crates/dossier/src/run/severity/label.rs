//! Occupant figures as findings: where they come from, what must be known, and the limits that go with them.

use crate::options::RunOptions;
use crate::run::findings::OCCUPANT_CAUTION;
use filmgauge_occupant::{
    LIMITS_CAUTION, LimitedAxis, LimitedFigure, OccupantFigure, OccupantLimit, occupant_limits,
};
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource};

/// Where figures come from, and what must be known before they are used.
pub(crate) struct Label<'a> {
    pub(crate) source: FindingSource,
    pub(crate) subject: &'a str,
    pub(crate) from: String,
    pub(crate) evidence: Evidence,
    /// Goes on after the caution of all occupant figures; begins with "; ", or is empty.
    pub(crate) caution: String,
}

/// A figure as a finding with its limits.
pub(crate) fn labelled(figure: OccupantFigure, label: &Label<'_>, options: &RunOptions) -> Finding {
    let limits = limits_of(figure.name).map(|limits| format!("; limits {LIMITS_CAUTION}: {limits}"));
    let (value, budget, reason) = match figure.value {
        Ok((value, shares)) => {
            let budget: Vec<Contribution> =
                shares.into_iter().map(|(source, u)| Contribution { source: source.into(), u }).collect();
            (Some(value), budget, None)
        }
        Err(reason) => (None, Vec::new(), Some(reason)),
    };
    Finding {
        name: figure.name.to_owned(),
        subject: label.subject.to_owned(),
        source: label.source,
        value,
        unit: figure.unit.to_owned(),
        uncertainty: value.map(|_| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt()),
        method: format!("{}, {}", method(figure.name, options), label.from),
        evidence: label.evidence.clone(),
        budget,
        caution: Some(format!("{OCCUPANT_CAUTION}{}{}", label.caution, limits.unwrap_or_default())),
        reason,
        absent: false,
    }
}

/// Times stand on the camera's clock: the doubt of its zero goes with every one of them.
pub(crate) fn doubt_zero(findings: &mut [Finding], zero_u_s: f64) {
    for finding in findings.iter_mut().filter(|finding| finding.unit == "s") {
        let Some(uncertainty) = &mut finding.uncertainty else { continue };
        *uncertainty = uncertainty.hypot(zero_u_s);
        finding.budget.push(Contribution { source: "time zero".into(), u: zero_u_s });
    }
}

fn method(name: &str, options: &RunOptions) -> String {
    let flail = &options.occupant.flail;
    match name {
        name if name.ends_with("_alone") => {
            format!("flail space, each axis by itself, {} m forward, {} m sideways", flail.forward_m, flail.lateral_m)
        }
        name if name.starts_with("head_") => {
            "theoretical head impact in the yawing compartment, EN 1317-1, formulas from memory".to_owned()
        }
        "severity_index" => {
            "acceleration severity index, EN 1317-1 of 2010, formulas from memory, 13 Hz as the corner of one pass".to_owned()
        }
        name if name.starts_with("mean_") => "greatest mean over a gliding window, forward, left and up positive".to_owned(),
        _ => format!("flail space, {} m forward, {} m sideways, one strike", flail.forward_m, flail.lateral_m),
    }
}

/// Limits of a figure in words; `None` where the rule sets have none.
fn limits_of(name: &str) -> Option<String> {
    let sideways = name.contains("sideways");
    let figure = match name {
        name if name.starts_with("occupant_impact_velocity") => LimitedFigure::ImpactVelocity,
        name if name.starts_with("ridedown") => LimitedFigure::Ridedown,
        "head_impact_velocity" => LimitedFigure::HeadVelocity,
        "head_deceleration" => LimitedFigure::HeadDeceleration,
        "severity_index" => LimitedFigure::Severity,
        "mean_50ms" | "mean_50ms_sideways" => LimitedFigure::Mean50Ms,
        _ => return None,
    };
    let axis = if sideways { LimitedAxis::Y } else { LimitedAxis::X };
    let words = |limit: &OccupantLimit| {
        let unit = match limit.figure.unit() {
            "" => String::new(),
            unit => format!(" {unit}"),
        };
        let of = |value: f64| format!("{value:.4}").trim_end_matches('0').trim_end_matches('.').to_owned();
        let preferred = limit.preferred.map(|value| format!("preferred {}, ", of(value))).unwrap_or_default();
        format!(
            "{} ({}) {preferred}at most {}{unit} ({})",
            limit.edition,
            limit.applies_to,
            of(limit.maximum),
            limit.mark
        )
    };
    let known: Vec<String> = occupant_limits()
        .iter()
        .filter(|limit| limit.figure == figure && [axis, LimitedAxis::Any].contains(&limit.axis))
        .map(words)
        .collect();
    (!known.is_empty()).then(|| known.join("; "))
}
