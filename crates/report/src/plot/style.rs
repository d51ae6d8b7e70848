//! Which colour and dash a curve gets. A body's film and sensor share a colour; the dash tells them apart.

use filmgauge_results::Curve;

/// Series colours that the sheet's style defines (Okabe and Ito's set, without yellow and black).
const N_COLOURS: usize = 6;
const N_DASHES: usize = 3;

/// Colour and line style of one curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CurveStyle {
    /// Number of the colour, from 0; a drawing repeats its colours when it runs out of them.
    pub colour: usize,
    /// Number of the dash, from 0; a solid line without one.
    pub dash: Option<usize>,
}

impl CurveStyle {
    /// Classes of the line, such as `s1` or `s1 sensor dash1`.
    pub(crate) fn class(self) -> String {
        let colour = self.colour % N_COLOURS + 1;
        match self.dash {
            None => format!("s{colour}"),
            Some(dash) => format!("s{colour} sensor dash{}", dash % N_DASHES + 1),
        }
    }
}

/// One style for each curve. The body is the label up to its first comma; the n-th film curve of a body
/// and its n-th sensor share a colour.
#[must_use]
pub fn curve_styles(curves: &[Curve]) -> Vec<CurveStyle> {
    let mut colours: Vec<(&str, usize)> = Vec::new();
    let mut styles = Vec::with_capacity(curves.len());
    for (at, curve) in curves.iter().enumerate() {
        let body = body(curve);
        let alike = |other: &&Curve| self::body(other) == body && other.source == curve.source;
        let nth = curves[..at].iter().filter(alike).count();
        let colour = colours.iter().position(|key| *key == (body, nth)).unwrap_or_else(|| {
            colours.push((body, nth));
            colours.len() - 1
        });
        styles.push(CurveStyle { colour, dash: (curve.source == "sensor").then_some(nth) });
    }
    styles
}

fn body(curve: &Curve) -> &str {
    curve.label.split(',').next().unwrap_or_default().trim()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn film_and_sensor_of_a_body_share_a_colour() {
        let curve = |label: &str, source: &str| Curve {
            label: label.to_owned(),
            source: source.to_owned(),
            points: Vec::new(),
            band: None,
        };
        let curves = [
            curve("car, film", "film"),
            curve("truck, film", "film"),
            curve("car, 10CV", "sensor"),
            curve("car, 11CV", "sensor"),
        ];
        let classes: Vec<String> = curve_styles(&curves).into_iter().map(CurveStyle::class).collect();
        assert_eq!(classes, ["s1", "s2", "s1 sensor dash1", "s3 sensor dash2"]);
    }
}
