//! The chance of a misfit.

/// Chance that χ² exceeds a value: the finite sums for whole degrees of freedom (Abramowitz & Stegun 1964, 26.4.4 and
/// 26.4.5; the normal tail of odd degrees by 7.1.26, good to 2e-7).
pub(super) fn chance_beyond(chi2: f64, degrees: usize) -> f64 {
    let half = 0.5 * chi2.max(0.0);
    let root = chi2.max(0.0).sqrt();
    let (mut term, mut sum, mut from) = if degrees.is_multiple_of(2) {
        ((-half).exp(), (-half).exp(), 2.0)
    } else {
        let density = (2.0 / std::f64::consts::PI).sqrt() * (-half).exp();
        (density / root.max(1e-300), complement(root * std::f64::consts::FRAC_1_SQRT_2), 1.0)
    };
    for _ in 1..degrees.div_ceil(2) {
        term *= chi2.max(0.0) / from;
        sum += term;
        from += 2.0;
    }
    sum
}

/// erfc for arguments of at least 0 (Abramowitz & Stegun 7.1.26).
fn complement(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let series = [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    series.iter().rev().fold(0.0, |sum, a| (sum + a) * t) * (-x * x).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_are_those_of_the_printed_tables() {
        // Upper 5 % points of χ² as tabulated (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4).
        for (degrees, point) in [(1, 3.841), (2, 5.991), (3, 7.815), (4, 9.488), (5, 11.070), (9, 16.919)] {
            assert!((chance_beyond(point, degrees) - 0.05).abs() < 2e-5, "{degrees}");
        }
        assert!((chance_beyond(0.0, 3) - 1.0).abs() < 1e-6);
    }
}
