//! The normalised error of two measurements of one thing.

use crate::outcome::Measured;

/// E_n = (a − b)/√(U_a² + U_b²) with expanded uncertainties U = 2 u (ISO 13528:2015 and ISO/IEC 17043, formula from memory): up to
/// 1 in size, two measurements agree within what they say of themselves. It judges values and their uncertainties together;
/// with an uncertainty that is too wide everything agrees. `None` where both uncertainties are 0 or a number is none.
#[must_use]
pub fn normalised_error(a: Measured, b: Measured) -> Option<f64> {
    let expanded = 2.0 * a.u.hypot(b.u);
    let error = (a.value - b.value) / expanded;
    (expanded > 0.0 && error.is_finite()).then_some(error)
}
