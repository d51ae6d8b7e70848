//! The terms of a lens in words.

use filmgauge_geometry::{LENS_TERMS, LensFile};
use filmgauge_quantities::COVERAGE_95;

/// One line for each term: its name, value and the half-width of its 95 % interval, to two digits of that.
#[must_use]
pub fn lens_terms(file: &LensFile) -> Vec<String> {
    let lens = &file.lens;
    let values =
        [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2];
    let line = |((name, value), u): ((&&str, f64), f64)| {
        let half_width = COVERAGE_95 * u;
        let digits = decimals(half_width);
        format!("{name:<14} {value:>12.digits$} ± {half_width:.digits$}")
    };
    LENS_TERMS.iter().zip(values).zip(file.u).map(line).collect()
}

/// Decimals that show two significant digits of a half-width.
fn decimals(half_width: f64) -> usize {
    let exponent = half_width.log10().floor();
    // Of no half-width at all, as where a term is left out by all evidence, nothing is to be shown.
    if exponent >= 1.0 || exponent.is_infinite() { 0 } else { (1.0 - exponent).min(12.0) as usize }
}

#[cfg(test)]
mod tests {
    use super::decimals;

    #[test]
    fn two_digits_of_a_half_width_are_shown() {
        for (half_width, digits) in [(123.0, 0), (12.0, 0), (1.2, 1), (0.012, 3), (0.0, 0)] {
            assert_eq!(decimals(half_width), digits, "{half_width}");
        }
    }
}
