//! Motions with known position, speed and acceleration: pulses of an impact, smooth and with kinks.

use std::f64::consts::PI;

pub(super) const G: f64 = 9.806_65;

/// What the motion is like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Shape {
    /// Haversine of 100 ms and 15.6 m/s with 8 g of decaying 50 Hz ringing, from rest.
    Pulse,
    /// 100 m/s² with ripple of 22 Hz for 130 ms, built up evenly or along a half cosine within so many seconds.
    Struck { rise_s: f64, even: bool },
    /// A blow of 80 m/s² for 30 ms within 2 ms, and 50 ms after its start one of 150 m/s² built up in so many seconds.
    Double { rise_s: f64 },
}

impl Shape {
    /// Acceleration, m/s², so long after contact.
    fn acceleration(self, s: f64) -> f64 {
        if s <= 0.0 {
            return 0.0;
        }
        let line = |s: f64, rise_s: f64| (s / rise_s).clamp(0.0, 1.0);
        match self {
            Self::Pulse => {
                let haversine = if s < 0.1 { 156.0 * (1.0 - (2.0 * PI * s / 0.1).cos()) } else { 0.0 };
                haversine + 8.0 * G * (-s / 0.03).exp() * (2.0 * PI * 50.0 * s).sin()
            }
            Self::Struck { rise_s, even } => {
                let x = line(s, rise_s);
                let rise = if even { x } else { 0.5 - 0.5 * (PI * x).cos() };
                let fall = ((0.13 - s) / 0.02).clamp(0.0, 1.0);
                -rise * fall * (100.0 + 25.0 * (2.0 * PI * 22.0 * s).sin())
            }
            Self::Double { rise_s } => {
                let first = line(s, 0.002) * ((0.03 - s) / 0.01).clamp(0.0, 1.0) * 80.0;
                let second = line(s - 0.05, rise_s) * ((0.12 - s) / 0.02).clamp(0.0, 1.0) * 150.0;
                -first - second
            }
        }
    }

    /// Position, speed and acceleration at each time, contact at `contact_s`: by the midpoint rule in steps of 10 µs, which
    /// is good to 1e-8 m.
    pub(super) fn truth(self, times_s: &[f64], contact_s: f64) -> Vec<[f64; 3]> {
        let h = 1e-5;
        let speed = if self == Self::Pulse { 0.0 } else { 14.4 };
        let start_s = times_s.first().copied().unwrap_or(0.0);
        let (mut x, mut v, mut step) = (speed * start_s, speed, 0_u32);
        let mut truth = Vec::with_capacity(times_s.len());
        for &time_s in times_s {
            while start_s + f64::from(step) * h < time_s - 0.5 * h {
                let a = self.acceleration(start_s + (f64::from(step) + 0.5) * h - contact_s);
                x += v * h + 0.5 * a * h * h;
                v += a * h;
                step += 1;
            }
            truth.push([x, v, self.acceleration(time_s - contact_s)]);
        }
        truth
    }
}
