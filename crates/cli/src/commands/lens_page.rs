//! A lens calibration in words, as JSON and as a drawing.

use super::lens::Unused;
use filmgauge_geometry::{GridView, LENS_TERMS, LensFit};
use filmgauge_quantities::COVERAGE_95;
use filmgauge_report::{LensPicture, LensResidual};
use serde_json::json;
use std::io::Write;

fn terms(fit: &LensFit) -> [f64; 9] {
    let lens = &fit.lens;
    [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2]
}

/// The last part of a picture's path: all of them mostly lie in one folder.
fn file_name(path: &str) -> &str {
    std::path::Path::new(path).file_name().and_then(std::ffi::OsStr::to_str).unwrap_or(path)
}

pub(super) fn print(fit: &LensFit, unused: &[Unused], out: &mut dyn Write) -> std::io::Result<()> {
    let width = fit.views.iter().map(|view| file_name(&view.name).chars().count()).max().unwrap_or(0).max(14);
    writeln!(out, "{:<width$} {:>8} {:>8} {:>11}  used", "view", "RMS px", "tilt °", "distance m")?;
    for view in &fit.views {
        let [x, y, z] = view.pose.at_m;
        writeln!(
            out,
            "{:<width$} {:>8.3} {:>8.1} {:>11.3}  {}",
            file_name(&view.name),
            view.rms_px,
            view.pose.tilt_rad().to_degrees(),
            (x * x + y * y + z * z).sqrt(),
            if view.is_used { "yes" } else { "no" }
        )?;
    }
    for view in &fit.odd {
        writeln!(out, "does not belong  {}: RMS {:.3} px; {}", view.name, view.rms_px, view.reason)?;
    }
    for picture in unused {
        writeln!(out, "no view          {}: {}", picture.name, picture.reason)?;
    }
    writeln!(out, "\n{:<14} {:>8} {:>10} {:>16}", "terms", "RMS px", "BIC", "χ² to all")?;
    for trial in &fit.trials {
        let (chi2, n) = trial.chi2_to_full;
        let mark = if trial.terms == fit.terms { "  chosen" } else { "" };
        let name = trial.terms.to_string();
        writeln!(
            out,
            "{name:<14} {:>8.4} {:>+10.1} {chi2:>12.1} / {n}{mark}",
            trial.rms_px, trial.bic_above_best
        )?;
    }
    writeln!(out)?;
    let (values, u) = (terms(fit), fit.u_with_choice());
    for (term, name) in LENS_TERMS.iter().enumerate() {
        let half_width = COVERAGE_95 * u[term];
        let digits = decimals(half_width);
        let note = if fit.terms.free()[term] { "" } else { "  not borne out" };
        writeln!(out, "{name:<14} {:>12.digits$} ± {half_width:.digits$}{note}", values[term])?;
    }
    writeln!(
        out,
        "± is the half-width of the 95 % interval, from the scatter of the corners and the doubt about the terms"
    )?;
    writeln!(
        out,
        "RMS            {:.4} px over {} views; {} corners counted less",
        fit.rms_px,
        fit.n_used(),
        fit.n_clipped
    )?;
    writeln!(
        out,
        "field          {:.0} px about the principal point; corners cover {:.0} % of {} x {} px",
        fit.field.radius_px,
        100.0 * fit.field.share,
        fit.size_px.0,
        fit.size_px.1
    )
}

/// Decimals that show two significant digits of a half-width.
fn decimals(half_width: f64) -> usize {
    let exponent = half_width.log10().floor();
    // Of no half-width at all, as where a term is left out by all evidence, nothing is to be shown.
    if exponent >= 1.0 || exponent.is_infinite() { 0 } else { (1.0 - exponent).min(12.0) as usize }
}

pub(super) fn as_json(fit: &LensFit, unused: &[Unused]) -> serde_json::Value {
    let (values, u, u_given) = (terms(fit), fit.u_with_choice(), fit.u());
    let lens = LENS_TERMS.iter().enumerate().map(|(term, name)| {
        (
            (*name).to_owned(),
            json!({ "value": values[term], "u": u[term], "u_given_terms": u_given[term], "is_free": fit.terms.free()[term] }),
        )
    });
    let views = fit.views.iter().map(|view| {
        json!({
            "name": view.name,
            "is_used": view.is_used,
            "rms_px": view.rms_px,
            "tilt_deg": view.pose.tilt_rad().to_degrees(),
            "at_m": view.pose.at_m,
            "turn": view.pose.turn,
            "residuals_px": view.residuals_px,
        })
    });
    let odd = fit.odd.iter().map(|view| {
        json!({ "name": view.name, "rms_px": view.rms_px, "median_px": view.median_px, "is_left_out": view.is_left_out, "reason": view.reason })
    });
    let trials = fit.trials.iter().map(|trial| {
        json!({
            "terms": trial.terms.to_string(),
            "rms_px": trial.rms_px,
            "bic_above_best": trial.bic_above_best,
            "chi2_to_full": trial.chi2_to_full.0,
            "further_terms": trial.chi2_to_full.1,
        })
    });
    json!({
        "width_px": fit.size_px.0,
        "height_px": fit.size_px.1,
        "terms": fit.terms.to_string(),
        "lens": lens.collect::<serde_json::Map<String, serde_json::Value>>(),
        "covariance": fit.cov_with_choice,
        "covariance_given_terms": fit.cov,
        "rms_px": fit.rms_px,
        "corner_sd_px": fit.corner_sd_px,
        "clipped_corners": fit.n_clipped,
        "field_radius_px": fit.field.radius_px,
        "field_share": fit.field.share,
        "views": views.collect::<Vec<_>>(),
        "odd": odd.collect::<Vec<_>>(),
        "trials": trials.collect::<Vec<_>>(),
        "no_view": unused.iter().map(|unused| json!({ "name": unused.name, "reason": unused.reason })).collect::<Vec<_>>(),
    })
}

/// The drawing of a calibration.
pub(super) fn drawing(fit: &LensFit, seen: &[GridView]) -> LensPicture {
    let corners = fit.views.iter().flat_map(|view| {
        let seen = seen.iter().find(|seen| seen.name == view.name);
        let places = seen.into_iter().flat_map(|seen| &seen.corners);
        places.zip(&view.residuals_px).map(|(at, residual_px)| LensResidual {
            at_px: [at.x, at.y],
            residual_px: *residual_px,
            is_used: view.is_used,
        })
    });
    LensPicture {
        title: format!("Lens from {} views: RMS {:.3} px", fit.n_used(), fit.rms_px),
        size_px: fit.size_px,
        corners: corners.collect(),
        outline_px: fit.field.outline.iter().map(|at| [at.x, at.y]).collect(),
        centre_px: [fit.lens.cx_px, fit.lens.cy_px],
        field_radius_px: fit.field.radius_px,
    }
}
