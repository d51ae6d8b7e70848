//! Limits of Student's t and of chi-square.

use filmgauge_quantities::COVERAGE_95;

/// Two-sided 95 % limit of Student's t, within 0.3 % from 3 degrees of freedom on (exact below): expansion about the
/// normal quantile (Abramowitz and Stegun 1964, 26.7.5).
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
pub(crate) fn student_95(freedom: usize) -> f64 {
    match freedom {
        // Closed forms: tan(0.475 π), and 0.95 √(2 / (1 − 0.95²)).
        0 | 1 => 12.706_205,
        2 => 4.302_653,
        _ => {
            let (z, n) = (COVERAGE_95, freedom as f64);
            let first = (z.powi(3) + z) / 4.0;
            let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
            let third = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
            let fourth =
                (79.0 * z.powi(9) + 776.0 * z.powi(7) + 1482.0 * z.powi(5) - 1920.0 * z.powi(3) - 945.0 * z)
                    / 92160.0;
            z + first / n + second / n.powi(2) + third / n.powi(3) + fourth / n.powi(4)
        }
    }
}

/// 99 % limit of χ² divided by its degrees of freedom (Wilson and Hilferty 1931, PNAS 17:684).
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
pub(crate) fn reduced_chi2_99(freedom: usize) -> f64 {
    let spread = 2.0 / (9.0 * freedom.max(1) as f64);
    (1.0 - spread + 2.326_348 * spread.sqrt()).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_of_printed_tables() {
        // Student: JCGM 100:2008, table G.2, 95 %.
        for (freedom, printed) in
            [(1, 12.71), (2, 4.30), (3, 3.18), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01)]
        {
            assert!((student_95(freedom) - printed).abs() < 0.012, "{freedom}: {}", student_95(freedom));
        }
        // χ²: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, upper 1 %: 23.209 for 10.
        assert!((10.0 * reduced_chi2_99(10) - 23.209).abs() < 0.1);
    }
}
