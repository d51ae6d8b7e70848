//! A lens calibration in words and as JSON.

use filmgauge_dossier::lens::{BoardCalibration, EdgeCalibration, LensCalibration, lens_terms};
use filmgauge_geometry::{LENS_TERMS, Lens, LensFile};
use serde_json::json;
use std::io::Write;

fn terms(lens: &Lens) -> [f64; 9] {
    [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2]
}

/// The last part of a picture's path: all of them mostly lie in one folder.
fn file_name(path: &str) -> &str {
    std::path::Path::new(path).file_name().and_then(std::ffi::OsStr::to_str).unwrap_or(path)
}

pub(super) fn print_board(board: &BoardCalibration, out: &mut dyn Write) -> std::io::Result<()> {
    let BoardCalibration { fit, unused, .. } = board;
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
    for (line, is_free) in lens_terms(&LensFile::of_fit(fit)).iter().zip(fit.terms.free()) {
        writeln!(out, "{line}{}", if is_free { "" } else { "  not borne out" })?;
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

pub(super) fn board_json(board: &BoardCalibration) -> serde_json::Value {
    let BoardCalibration { fit, unused, .. } = board;
    let (values, u, u_given) = (terms(&fit.lens), fit.u_with_choice(), fit.u());
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

pub(super) fn print_edges(
    calibration: &LensCalibration,
    edges: &EdgeCalibration,
    out: &mut dyn Write,
) -> std::io::Result<()> {
    let fit = &edges.fit;
    let width = edges.edges.iter().map(|edge| edge.name.chars().count()).max().unwrap_or(0).max(14);
    writeln!(out, "{:<width$} {:>7} {:>8} {:>12}", "edge", "points", "RMS px", "own doubt px")?;
    for (edge, rms_px) in edges.edges.iter().zip(&fit.edge_rms_px) {
        let own = edge.u_px.map_or_else(|| "as given".to_owned(), |u_px| format!("{u_px:.3}"));
        writeln!(out, "{:<width$} {:>7} {rms_px:>8.3} {own:>12}", edge.name, edge.points.len())?;
    }
    writeln!(out)?;
    for line in calibration.said() {
        writeln!(out, "{line}")?;
    }
    writeln!(
        out,
        "± is the half-width of the 95 % interval, from the scatter of the points and the doubt about the centre"
    )?;
    writeln!(out, "field          {:.0} px about the centre", fit.field.radius_px)?;
    for notice in calibration.notices() {
        writeln!(out, "to look at     {notice}")?;
    }
    Ok(())
}

pub(super) fn edges_json(edges: &EdgeCalibration) -> serde_json::Value {
    let fit = &edges.fit;
    let file = LensFile::of_plumb_lines(fit, edges.size_px);
    let values = terms(&fit.lens);
    let lens = LENS_TERMS.iter().enumerate().map(|(term, name)| {
        let is_free = term == 4 || (term == 5 && fit.has_k2);
        ((*name).to_owned(), json!({ "value": values[term], "u": file.u[term], "is_free": is_free }))
    });
    let rows = edges.edges.iter().zip(&fit.edge_rms_px).zip(&fit.away_px).map(|((edge, rms_px), away)| {
        json!({
            "name": edge.name,
            "rms_px": rms_px,
            "u_px": edge.u_px,
            "points_px": edge.points.iter().map(|at| [at.x, at.y]).collect::<Vec<_>>(),
            "residuals_px": away,
        })
    });
    json!({
        "width_px": edges.size_px.0,
        "height_px": edges.size_px.1,
        "terms": if fit.has_k2 { "k1 k2" } else { "k1" },
        "lens": lens.collect::<serde_json::Map<String, serde_json::Value>>(),
        "covariance": file.covariance(),
        "rms_px": fit.rms_px,
        "rms_before_px": fit.rms_before_px,
        "bic_of_k2": fit.bic_of_k2,
        "neighbour_correlation": fit.neighbour_correlation,
        "field_radius_px": fit.field.radius_px,
        "field_share": fit.field.share,
        "edges": rows.collect::<Vec<_>>(),
        "not_used": edges.unused.iter().map(|unused| json!({ "name": unused.name, "reason": unused.reason })).collect::<Vec<_>>(),
        "notices": edges.notices,
    })
}
