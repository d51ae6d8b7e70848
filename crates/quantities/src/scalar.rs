//! Scalar quantities as types: one constructor and one getter per unit, SI inside.

use serde::{Deserialize, Serialize};

/// Standard acceleration of free fall, exact (3rd CGPM, 1901; ISO 80000-3).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;

/// A scalar quantity that is stored as one number in its SI unit.
pub trait Quantity: Copy {
    /// The value in the SI unit.
    fn si(self) -> f64;
    /// The quantity whose SI value is `value`.
    fn from_si(value: f64) -> Self;
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident { $( $(#[$unit_doc:meta])* $from:ident, $get:ident, $factor:expr; )+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            $(
                $(#[$unit_doc])*
                #[must_use]
                pub fn $from(value: f64) -> Self { Self(value * $factor) }
                $(#[$unit_doc])*
                #[must_use]
                pub fn $get(self) -> f64 { self.0 / $factor }
            )+
            /// The quantity without its sign.
            #[must_use]
            pub fn abs(self) -> Self { Self(self.0.abs()) }
        }

        impl Quantity for $name {
            fn si(self) -> f64 { self.0 }
            fn from_si(value: f64) -> Self { Self(value) }
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self(self.0 + other.0) }
        }
        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self(self.0 - other.0) }
        }
        impl std::ops::Neg for $name {
            type Output = Self;
            fn neg(self) -> Self { Self(-self.0) }
        }
        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self { Self(self.0 * factor) }
        }
        impl std::ops::Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self { Self(self.0 / divisor) }
        }
        /// The ratio of two like quantities is a plain number.
        impl std::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 { self.0 / other.0 }
        }
    };
}

quantity! {
    /// A length; SI unit metre.
    Length {
        /// In metres.
        from_m, as_m, 1.0;
        /// In millimetres.
        from_mm, as_mm, 1e-3;
        /// In feet (international, exactly 0.3048 m).
        from_ft, as_ft, 0.3048;
        /// In inches (exactly 25.4 mm).
        from_in, as_in, 0.0254;
    }
}
quantity! {
    /// An angle; inside in radians.
    Angle {
        /// In radians.
        from_rad, as_rad, 1.0;
        /// In degrees.
        from_deg, as_deg, std::f64::consts::PI / 180.0;
    }
}
quantity! {
    /// A span of time; SI unit second.
    Seconds {
        /// In seconds.
        from_s, as_s, 1.0;
        /// In milliseconds.
        from_ms, as_ms, 1e-3;
    }
}
quantity! {
    /// A speed; SI unit metre per second.
    Speed {
        /// In metres per second.
        from_m_s, as_m_s, 1.0;
        /// In kilometres per hour.
        from_km_h, as_km_h, 1.0 / 3.6;
        /// In miles per hour (1 mi = 1609.344 m exactly).
        from_mi_h, as_mi_h, 0.44704;
        /// In feet per second.
        from_ft_s, as_ft_s, 0.3048;
    }
}
quantity! {
    /// An acceleration; SI unit metre per second squared.
    Acceleration {
        /// In metres per second squared.
        from_m_s2, as_m_s2, 1.0;
        /// In units of standard gravity, 9.80665 m/s².
        from_g, as_g, STANDARD_GRAVITY_M_S2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn us_customary_factors_are_exact() {
        // NIST SP 811, appendix B: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 mi/h = 0.44704 m/s, all exact.
        assert!((Length::from_ft(1.0).as_m() - 0.3048).abs() < 1e-16);
        assert!((Length::from_in(1.0).as_mm() - 25.4).abs() < 1e-12);
        assert!((Speed::from_mi_h(60.0).as_m_s() - 26.8224).abs() < 1e-12);
        assert!((Speed::from_km_h(100.0).as_m_s() - 27.777_777_777_777_8).abs() < 1e-12);
        assert!((Acceleration::from_g(1.0).as_m_s2() - 9.806_65).abs() < 1e-15);
    }

    proptest::proptest! {
        #[test]
        fn every_unit_round_trips(value in -1e6_f64..1e6) {
            for back in [Length::from_mm(value).as_mm(), Length::from_in(value).as_in(), Angle::from_deg(value).as_deg(),
                         Seconds::from_ms(value).as_ms(), Speed::from_km_h(value).as_km_h(),
                         Acceleration::from_g(value).as_g()] {
                proptest::prop_assert!((back - value).abs() <= 1e-9 * value.abs().max(1.0));
            }
        }
    }
}
