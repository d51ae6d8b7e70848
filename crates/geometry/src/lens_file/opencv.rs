//! The lens file as OpenCV's calibration writes it: YAML 1.0 with `camera_matrix` and `distortion_coefficients`.
//!
//! Only what such files hold is read: top-level scalars, and matrices of `rows`, `cols`, `dt` and `data`.

use super::{LensFile, fault};
use crate::{GeometryError, Lens};
use std::collections::BTreeMap;
use std::fmt::Write;

/// What the text of such a file begins with.
const BEGINNING: &str = "%YAML";
/// Matrices that are read.
const MATRICES: [&str; 2] = ["camera_matrix", "distortion_coefficients"];

pub(super) fn is_of(text: &str) -> bool {
    text.trim_start_matches('\u{feff}').trim_start().starts_with(BEGINNING)
}

/// A matrix and the byte it begins at.
struct Matrix {
    at: usize,
    size: (usize, usize),
    data: Vec<f64>,
}

#[derive(Default)]
struct Document {
    /// Scalars with the byte they begin at.
    scalars: BTreeMap<String, (usize, String)>,
    matrices: BTreeMap<String, Matrix>,
}

/// See [`LensFile::parse`].
pub(super) fn parse(text: &str, file_name: &str) -> Result<LensFile, GeometryError> {
    let error = |at: usize, why: &str| fault(text, at, file_name, why);
    let document = document(text).map_err(|(at, why)| error(at, &why))?;
    let matrix = |name: &str| {
        let missing = || {
            error(
                0,
                &format!(
                    "{name} is missing; a file of one camera with camera_matrix and distortion_coefficients is needed"
                ),
            )
        };
        document.matrices.get(name).ok_or_else(missing)
    };
    let camera = matrix("camera_matrix")?;
    let [fx_px, skew, cx_px, below, fy_px, cy_px, a, b, c] = camera.data[..] else {
        return Err(error(camera.at, "camera_matrix must have 3 rows and 3 columns"));
    };
    if camera.size != (3, 3) || skew != 0.0 || below != 0.0 || [a, b, c] != [0.0, 0.0, 1.0] {
        return Err(error(camera.at, "camera_matrix must be fx 0 cx, 0 fy cy, 0 0 1"));
    }
    if fx_px <= 0.0 || fy_px <= 0.0 {
        return Err(error(camera.at, "focal lengths must be greater than 0"));
    }
    let bend = matrix("distortion_coefficients")?;
    let (known, further) = bend.data.split_at(bend.data.len().min(5));
    if known.len() < 4 || further.iter().any(|term| *term != 0.0) {
        let why =
            "distortion_coefficients must be k1 k2 p1 p2 or k1 k2 p1 p2 k3; calibrate without further terms";
        return Err(error(bend.at, why));
    }
    let k3 = known.get(4).copied().unwrap_or(0.0);
    let lens =
        Lens { fx_px, fy_px, cx_px, cy_px, k1: known[0], k2: known[1], k3, p1: known[2], p2: known[3] };
    let number = |name: &str| {
        let (at, word) = document.scalars.get(name)?;
        Some(
            word.parse::<f64>()
                .ok()
                .filter(|value| value.is_finite() && *value >= 0.0)
                .ok_or_else(|| error(*at, &format!("{name} must be a number of 0 or more"))),
        )
    };
    let whole = |name: &str| -> Result<Option<u32>, GeometryError> {
        let Some((at, word)) = document.scalars.get(name) else { return Ok(None) };
        word.parse::<u32>()
            .map(Some)
            .map_err(|_not_whole| error(*at, &format!("{name} must be a whole number")))
    };
    let size_px = whole("image_width")?.zip(whole("image_height")?);
    let n_views = match whole("nframes")? {
        None => whole("nr_of_frames")?,
        some => some,
    };
    let rms_px = number("avg_reprojection_error").transpose()?;
    Ok(LensFile { rms_px, n_views, ..LensFile::of(lens, [0.0; 9], size_px) })
}

/// See [`LensFile::to_opencv_yaml`].
pub(super) fn text(file: &LensFile) -> String {
    let Lens { fx_px, fy_px, cx_px, cy_px, k1, k2, k3, p1, p2 } = file.lens;
    let mut text = String::from("%YAML:1.0\n---\n");
    if let Some(n_views) = file.n_views {
        let _ = writeln!(text, "nframes: {n_views}");
    }
    if let Some((width, height)) = file.size_px {
        let _ = writeln!(text, "image_width: {width}\nimage_height: {height}");
    }
    let mut matrix = |name: &str, rows: usize, columns: usize, data: &[f64]| {
        let data: Vec<String> = data.iter().map(|value| format!("{value:?}")).collect();
        let _ = writeln!(
            text,
            "{name}: !!opencv-matrix\n   rows: {rows}\n   cols: {columns}\n   dt: d\n   data: [ {} ]",
            data.join(", ")
        );
    };
    matrix("camera_matrix", 3, 3, &[fx_px, 0.0, cx_px, 0.0, fy_px, cy_px, 0.0, 0.0, 1.0]);
    matrix("distortion_coefficients", 5, 1, &[k1, k2, p1, p2, k3]);
    if let Some(rms_px) = file.rms_px {
        let _ = writeln!(text, "avg_reprojection_error: {rms_px:?}");
    }
    text
}

/// Scalars and matrices of a text, or the byte at which it is none and why.
fn document(text: &str) -> Result<Document, (usize, String)> {
    let mut document = Document::default();
    // Name, byte and body of the block that lines still belong to.
    let mut open: Option<(String, usize, String)> = None;
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let (begins, bare) = (at, line.trim_end());
        at += line.len();
        let is_top = bare.starts_with(|first: char| first.is_ascii_alphabetic() || first == '_');
        if is_top {
            close(open.take(), &mut document)?;
            let (name, value) =
                bare.split_once(':').ok_or_else(|| (begins, "a key needs a colon".to_owned()))?;
            let value = value.trim();
            if value.is_empty() || value.starts_with("!!") {
                open = Some((name.trim().to_owned(), begins, String::new()));
            } else {
                let value = value.trim_matches('"').to_owned();
                document.scalars.insert(name.trim().to_owned(), (begins, value));
            }
        } else if let Some((_, _, body)) = &mut open {
            body.push_str(bare);
            body.push('\n');
        }
    }
    close(open, &mut document)?;
    Ok(document)
}

/// Puts a block into the document if it is a matrix of the lens; others may hold what they like.
fn close(block: Option<(String, usize, String)>, document: &mut Document) -> Result<(), (usize, String)> {
    let Some((name, at, body)) = block.filter(|(name, _, _)| MATRICES.contains(&name.as_str())) else {
        return Ok(());
    };
    let Some((head, list)) = body.split_once("data:") else { return Ok(()) };
    let fault = |what: &str| (at, format!("{name}: {what}"));
    let size = |key: &str| {
        let line = head.lines().find_map(|line| line.trim().strip_prefix(key)?.trim().strip_prefix(':'));
        line.and_then(|value| value.trim().parse::<usize>().ok())
            .ok_or_else(|| fault("rows and cols must be whole numbers"))
    };
    let size = (size("rows")?, size("cols")?);
    let inner = list.trim().strip_prefix('[').and_then(|rest| rest.split_once(']'));
    let (inner, _) = inner.ok_or_else(|| fault("data must be a list in brackets"))?;
    let number = |word: &str| word.trim().parse::<f64>().ok().filter(|value| value.is_finite());
    let words = inner.split(',').filter(|word| !word.trim().is_empty());
    let data = words
        .map(number)
        .collect::<Option<Vec<f64>>>()
        .ok_or_else(|| fault("data must be finite numbers"))?;
    if size.0.checked_mul(size.1) != Some(data.len()) {
        return Err(fault("data must have as many numbers as rows and cols say"));
    }
    document.matrices.insert(name, Matrix { at, size, data });
    Ok(())
}
