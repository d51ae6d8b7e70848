//! Lens calibration held against photographs that OpenCV calibrates too, and against made-up cameras whose lens is known.

mod made_up;
mod photographs;

pub use made_up::{Case, Coverage, cases, coverage};
pub use photographs::{BOARD, Calibrated, FOLDER, Peer, calibrated, photographs, view};

use anyhow::Result;
use filmgauge_geometry::{LENS_TERMS, LensFit};
use filmgauge_quantities::COVERAGE_95;
use std::fmt::Write;

/// The section of the page: `n` rehearsals of each case.
///
/// # Errors
/// When the photographs or OpenCV are missing, or a rehearsal gives no lens.
pub fn page(n: u64) -> Result<String> {
    let cameras = ["left", "right"].into_iter().map(calibrated).collect::<Result<Vec<_>>>()?;
    let mut text = String::from(
        "## Lens calibration\n\nPhotographs of a chessboard of 9 x 6 inner corners, 640 x 480 px, two cameras of 13 photographs each \
         (Debian package opencv-doc), calibrated as `filmgauge lens` does: all photographs, nothing chosen by hand. OpenCV's \
         calibrateCamera beside it, with the same terms: on the same corners, and on its own by findChessboardCorners and \
         cornerSubPix with half-windows of 11 and 5 px. RMS: root mean square distance of a corner from where lens and pose put it.\n\n\
         | camera | views used | terms | RMS, px | OpenCV, same corners | OpenCV, window 11 | OpenCV, window 5 |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for camera in &cameras {
        let (fit, n) = (&camera.fit, camera.n_photographs);
        let _ = writeln!(
            text,
            "| {} | {} of {n} | {} | {:.4} | {:.4} | {:.4} | {:.4} |",
            camera.camera,
            fit.n_used(),
            fit.terms,
            fit.rms_px,
            camera.same_corners.rms_px,
            camera.window_11.rms_px,
            camera.window_5.rms_px
        );
    }
    for camera in &cameras {
        views_table(&mut text, camera);
        terms_table(&mut text, camera);
        trials_table(&mut text, camera.camera, &camera.fit);
    }
    coverage_table(&mut text, n)?;
    Ok(text)
}

fn views_table(text: &mut String, camera: &Calibrated) {
    let _ = writeln!(
        text,
        "\n### Views of the {} camera\n\n| view | RMS, px | OpenCV, same corners | OpenCV, window 11 | OpenCV, window 5 |\n\
         | --- | --- | --- | --- | --- |",
        camera.camera
    );
    let shown = |peer: &Peer, k: usize| {
        // Without a board in one photograph the lists do not run side by side.
        let is_whole = peer.views.len() == camera.n_photographs;
        peer.views.get(k).filter(|_| is_whole).map_or_else(|| "none".to_owned(), |rms| format!("{rms:.3}"))
    };
    for (k, view) in camera.fit.views.iter().enumerate() {
        let peers = [&camera.same_corners, &camera.window_11, &camera.window_5].map(|peer| shown(peer, k));
        let _ = writeln!(text, "| {} | {:.3} | {} |", view.name, view.rms_px, peers.join(" | "));
    }
}

fn terms_table(text: &mut String, camera: &Calibrated) {
    let _ = writeln!(
        text,
        "\n### Terms of the {} camera\n\nBoth on the same corners; ± is the half-width of the 95 % interval.\n\n\
         | term | value | ± | OpenCV | ± | difference over OpenCV's ± |\n| --- | --- | --- | --- | --- | --- |",
        camera.camera
    );
    let lens = &camera.fit.lens;
    let ours = [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2];
    let (u, free) = (camera.fit.u(), camera.fit.terms.free());
    for (term, name) in LENS_TERMS.iter().enumerate().filter(|(term, _)| free[*term]) {
        let digits = if term < 4 { 3 } else { 5 };
        let (theirs, sd) = (camera.same_corners.terms[term], camera.same_corners.sd[term]);
        let _ = writeln!(
            text,
            "| {name} | {:.digits$} | {:.digits$} | {theirs:.digits$} | {:.digits$} | {:.2} |",
            ours[term],
            COVERAGE_95 * u[term],
            COVERAGE_95 * sd,
            (ours[term] - theirs).abs() / (COVERAGE_95 * sd)
        );
    }
}

fn trials_table(text: &mut String, camera: &str, fit: &LensFit) {
    let _ = writeln!(
        text,
        "\n### Choice of terms for the {camera} camera\n\nBIC above the best; χ² by which all terms together fit better.\n\n\
         | terms | RMS, px | BIC above best | χ² to all terms | further terms |\n| --- | --- | --- | --- | --- |"
    );
    for trial in &fit.trials {
        let (chi2, n) = trial.chi2_to_full;
        let _ = writeln!(
            text,
            "| {} | {:.4} | {:.1} | {chi2:.1} | {n} |",
            trial.terms, trial.rms_px, trial.bic_above_best
        );
    }
}

fn coverage_table(text: &mut String, n: u64) -> Result<()> {
    let cases = cases();
    let _ = writeln!(
        text,
        "\n### Truth within the stated interval\n\n{n} made-up cameras of 1280 x 800 px each, f 1400 px, 12 boards of 9 x 6 corners that stand \
         at random, normal noise on every corner. Share of the 95 % intervals that hold the truth: given the choice of terms, and \
         with the doubt about it as the lens file states it. 93 to 97 % is the aim; the share is itself good to about ± {:.1} %. \
         Beside it, in how many a term was chosen.\n\n| term | {} |\n| --- |{}",
        196.0 * (0.95 * 0.05 / n as f64).sqrt(),
        cases.map(|case| case.name).join(" | "),
        " --- |".repeat(cases.len())
    );
    let all = cases.iter().map(|case| coverage(case, n)).collect::<Result<Vec<_>>>()?;
    let share = |count: u32| 100.0 * f64::from(count) / n as f64;
    for (term, name) in LENS_TERMS.iter().enumerate() {
        let shown = all.iter().map(|coverage| {
            let (free, given, inside) =
                (coverage.free[term], coverage.inside_given[term], coverage.inside[term]);
            let given = if free == 0 { "-".to_owned() } else { format!("{:.1} %", share(given)) };
            format!("{given}, {:.1} % ({free})", share(inside))
        });
        let _ = writeln!(text, "| {name} | {} |", shown.collect::<Vec<_>>().join(" | "));
    }
    let noise: Vec<String> = all.iter().map(|coverage| format!("{:.3}", coverage.noise_ratio)).collect();
    let _ = writeln!(text, "| stated noise over true | {} |", noise.join(" | "));
    Ok(())
}
