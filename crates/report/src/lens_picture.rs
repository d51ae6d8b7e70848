//! A lens calibration as a picture: what each corner is off by, enlarged, and the field in which the lens was calibrated.

use crate::ReportError;
use crate::plot::{Svg, written_out};
use filmgauge_results::{LensPicture, LensPoint, LensResidual};
use std::fmt::Write;

/// Factors of enlargement that are used: 1, 2, 5, 10 and so on.
const STEPS: [f64; 3] = [1.0, 2.0, 5.0];
/// Length of a long arrow, as a share of the picture's longer side.
const ARROW_SHARE: f64 = 0.04;
/// Width of the drawing, in drawing units, and room around the picture.
const WIDTH: f64 = 960.0;
const MARGIN: f64 = 24.0;
const ABOVE: f64 = 74.0;
const STYLE: &str = ".paper { fill: var(--paper); } text { font: 13px var(--sans); fill: var(--soft); }\n\
    .title { font: 600 16px var(--sans); fill: var(--ink); }\n\
    .edge { fill: none; stroke: var(--soft); stroke-width: 1; }\n\
    .field { fill: none; stroke: var(--s3); stroke-width: 1.5; }\n\
    .radius { fill: none; stroke: var(--s3); stroke-width: 1; stroke-dasharray: 6 4; }\n\
    .arrow { fill: none; stroke: var(--s1); stroke-width: 1.2; }\n\
    .corner { fill: none; stroke: var(--ink); stroke-width: 1.6; }\n\
    .out { fill: none; stroke: var(--s2); stroke-width: 1.2; }\n\
    .centre { fill: none; stroke: var(--ink); stroke-width: 1; }\n";

/// The picture as the text of an SVG file that needs nothing beside it. The same calibration gives the same bytes.
///
/// # Errors
/// [`ReportError::NotFinite`] when a number is NaN or infinite.
pub fn lens_svg(picture: &LensPicture) -> Result<String, ReportError> {
    check(picture)?;
    let (width, height) = (f64::from(picture.size_px.0.max(1)), f64::from(picture.size_px.1.max(1)));
    let scale = (WIDTH - 2.0 * MARGIN) / width;
    let factor = factor(&picture.points, width.max(height));
    let of = match picture.of {
        LensPoint::Corner => "corner",
        LensPoint::EdgePoint => "point of an edge",
    };
    let said = format!(
        "Arrows: seen less expected place of each {of}, {factor:.0} times enlarged. Solid outline: where they were seen. \
         Dashed: calibrated radius of {:.0} px.",
        picture.field_radius_px
    );
    let whole = ABOVE + height * scale + MARGIN;
    let mut svg = Svg::new("lens", WIDTH, whole, &picture.title, &said, 1);
    svg.style(&written_out(STYLE));
    svg.rectangle("paper", WIDTH, whole);
    svg.text("title", (MARGIN, 28.0), &picture.title);
    let (arrows, field) = said.split_once(". ").unwrap_or((&said, ""));
    svg.text("said", (MARGIN, 48.0), &format!("{arrows}."));
    svg.text("said", (MARGIN, 66.0), field);
    svg.open_moved(MARGIN, ABOVE);
    // Pixel centres are whole numbers: the picture reaches half a pixel beyond.
    let at = |[x, y]: [f64; 2]| ((x + 0.5) * scale, (y + 0.5) * scale);
    svg.path("edge", &format!("M0 0H{:.2}V{:.2}H0Z", width * scale, height * scale));
    svg.open_clipped(0.0, 0.0, width * scale, height * scale);
    svg.path("radius", &circle(at(picture.centre_px), picture.field_radius_px * scale));
    svg.path("field", &closed(picture.outline_px.iter().map(|point| at(*point))));
    let (x, y) = at(picture.centre_px);
    svg.path("centre", &format!("M{:.2} {y:.2}h12M{x:.2} {:.2}v12", x - 6.0, y - 6.0));
    for is_used in [true, false] {
        let of = || picture.points.iter().filter(move |corner| corner.is_used == is_used);
        svg.path(if is_used { "arrow" } else { "out" }, &arrows_path(of(), factor * scale, at));
    }
    svg.path("corner", &dots(&picture.points, at));
    svg.close_group();
    svg.close_group();
    Ok(svg.finish() + "\n")
}

fn check(picture: &LensPicture) -> Result<(), ReportError> {
    let corners = picture.points.iter().enumerate().flat_map(|(k, corner)| {
        let [x, y] = corner.at_px;
        let [dx, dy] = corner.residual_px;
        [x, y, dx, dy].map(|value| (format!("point {k} of the lens picture"), value))
    });
    let outline =
        picture.outline_px.iter().flatten().map(|value| ("outline of the lens picture".to_owned(), *value));
    let [x, y] = picture.centre_px;
    let field = [x, y, picture.field_radius_px].map(|value| ("field of the lens picture".to_owned(), value));
    match corners.chain(outline).chain(field).find(|(_, value)| !value.is_finite()) {
        Some((field, value)) => Err(ReportError::NotFinite { field, value }),
        None => Ok(()),
    }
}

/// The largest factor at which nine in ten arrows are no longer than a long one.
fn factor(corners: &[LensResidual], longer_px: f64) -> f64 {
    let used = corners.iter().filter(|corner| corner.is_used);
    let mut lengths: Vec<f64> =
        used.map(|corner| corner.residual_px[0].hypot(corner.residual_px[1])).collect();
    lengths.sort_by(f64::total_cmp);
    let long = lengths.get(lengths.len() * 9 / 10).copied().unwrap_or(0.0).max(1e-6);
    let wanted = ARROW_SHARE * longer_px / long;
    let powers = (0..8).flat_map(|power| STEPS.map(|step| step * 10.0_f64.powi(power)));
    powers.take_while(|factor| *factor <= wanted).last().unwrap_or(1.0)
}

fn circle((x, y): (f64, f64), radius: f64) -> String {
    let (left, across) = (x - radius, 2.0 * radius);
    format!(
        "M{left:.2} {y:.2}a{radius:.2} {radius:.2} 0 1 0 {across:.2} 0a{radius:.2} {radius:.2} 0 1 0 -{across:.2} 0"
    )
}

fn closed(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut path = String::new();
    for (k, (x, y)) in points.enumerate() {
        let _ = write!(path, "{}{x:.2} {y:.2}", if k == 0 { 'M' } else { 'L' });
    }
    if !path.is_empty() {
        path.push('Z');
    }
    path
}

fn arrows_path<'a>(
    corners: impl Iterator<Item = &'a LensResidual>,
    enlarged: f64,
    at: impl Fn([f64; 2]) -> (f64, f64),
) -> String {
    let mut path = String::new();
    for corner in corners {
        let (x, y) = at(corner.at_px);
        let _ = write!(
            path,
            "M{x:.2} {y:.2}l{:.2} {:.2}",
            enlarged * corner.residual_px[0],
            enlarged * corner.residual_px[1]
        );
    }
    path
}

/// A dot where each arrow begins.
fn dots(corners: &[LensResidual], at: impl Fn([f64; 2]) -> (f64, f64)) -> String {
    let mut path = String::new();
    for corner in corners {
        let (x, y) = at(corner.at_px);
        let _ = write!(path, "M{:.2} {y:.2}h1", x - 0.5);
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture() -> LensPicture {
        let corner = |k: u32| LensResidual {
            at_px: [100.0 + 40.0 * f64::from(k % 9), 90.0 + 40.0 * f64::from(k / 9)],
            residual_px: [0.1, -0.05],
            is_used: k != 3,
        };
        LensPicture {
            title: "Lens <side>".into(),
            size_px: (640, 480),
            of: LensPoint::Corner,
            points: (0..54).map(corner).collect(),
            outline_px: vec![[100.0, 90.0], [420.0, 90.0], [420.0, 290.0], [100.0, 290.0]],
            centre_px: [320.0, 240.0],
            field_radius_px: 300.0,
        }
    }

    #[test]
    fn the_factor_is_stated_and_the_file_stands_alone() {
        let text = lens_svg(&picture()).unwrap();
        // 4 % of 640 px over arrows of 0.112 px is 229: the next lower step is 200.
        assert!(
            text.contains("200 times enlarged") && text.contains("calibrated radius of 300 px"),
            "{text}"
        );
        assert!(text.contains("Lens &lt;side&gt;") && !text.contains("var("), "{text}");
        assert_eq!(text.matches("<g ").count(), text.matches("</g>").count());
        assert_eq!(text, lens_svg(&picture()).unwrap());
    }

    #[test]
    fn numbers_that_are_none_are_refused() {
        let mut spoilt = picture();
        spoilt.points[7].residual_px[1] = f64::NAN;
        let said = lens_svg(&spoilt).unwrap_err().to_string();
        assert!(said.contains("point 7 of the lens picture"), "{said}");
    }
}
