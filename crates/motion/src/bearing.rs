//! Direction of a step or a speed in the plane, with its uncertainty.

use crate::Figure;

/// Angle from the first axis towards the second, rad, of a vector whose components have independent errors; first-order
/// propagation (JCGM 100, 5.1.2). `None` for a vector of no length.
#[must_use]
pub fn bearing(along: Figure, across: Figure) -> Option<Figure> {
    let square = along.value * along.value + across.value * across.value;
    (square > 0.0).then(|| Figure {
        value: across.value.atan2(along.value),
        u: (along.value * across.u).hypot(across.value * along.u) / square,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At 45 degrees a change of either component by 1 % turns the vector by half of 1 %, to the left with the second.
    #[test]
    fn to_the_second_axis_is_positive_and_errors_turn_by_their_share() {
        let of = |along: (f64, f64), across: (f64, f64)| {
            let figure = |(value, u)| Figure { value, u };
            bearing(figure(along), figure(across))
        };
        let found = of((2.0, 0.02), (2.0, 0.0)).unwrap();
        assert!((found.value - std::f64::consts::FRAC_PI_4).abs() < 1e-12 && (found.u - 0.005).abs() < 1e-12);
        assert!(of((2.0, 0.0), (-0.1, 0.0)).unwrap().value < 0.0);
        assert!(of((0.0, 1.0), (0.0, 1.0)).is_none());
    }
}
