//! Theoretical head impact: a free head in a yawing compartment, its speed at the strike and the deceleration after it.

use crate::OccupantFailure;
use crate::failure::{above_zero, all_finite};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;

/// Settings of [`head_impact`]; defaults as in EN 1317-1, from memory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadOptions {
    /// Free distance forward, m; above 0.
    pub forward_m: f64,
    /// Free distance to either side, m; above 0.
    pub lateral_m: f64,
    /// Where the head is at contact: ahead of the centre of gravity and to its left, m.
    pub head_m: [f64; 2],
    /// Window that the deceleration after the strike is averaged over, s; above 0.
    pub window_s: f64,
}

impl Default for HeadOptions {
    fn default() -> Self {
        Self { forward_m: 0.6, lateral_m: 0.3, head_m: [0.0, 0.0], window_s: 0.010 }
    }
}

impl HeadOptions {
    /// Whether all settings are in their ranges.
    ///
    /// # Errors
    /// [`OccupantFailure::Settings`] naming the first that is not.
    pub fn check(&self) -> Result<(), OccupantFailure> {
        above_zero("forward_m (m)", self.forward_m)?;
        above_zero("lateral_m (m)", self.lateral_m)?;
        above_zero("window_s (s)", self.window_s)?;
        all_finite("place of the head", &self.head_m)
    }
}

/// The vehicle at its centre of gravity from contact on, evenly sampled, in its own axes.
#[derive(Debug, Clone, Copy)]
pub struct YawingRecord<'a> {
    /// Between samples, s.
    pub step_s: f64,
    /// Acceleration forward, m/s²; negative in a frontal impact.
    pub ax_m_s2: &'a [f64],
    /// Acceleration to the left, m/s².
    pub ay_m_s2: &'a [f64],
    /// Yaw rate, nose left positive, rad/s.
    pub yaw_rad_s: &'a [f64],
}

/// The head's strike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadImpact {
    /// Time from contact to the strike, s.
    pub flight_s: f64,
    /// Where the head is then: ahead of the centre of gravity and to its left, m.
    pub place_m: [f64; 2],
    /// Its velocity in the compartment, forward and to the left, m/s.
    pub velocity_m_s: [f64; 2],
    /// Theoretical head impact velocity: its size, m/s.
    pub thiv_m_s: f64,
    /// Post-impact head deceleration: greatest horizontal deceleration of the vehicle after the strike, averaged, g; `None`
    /// where the record ends within one window.
    pub phd_g: Option<f64>,
}

/// Theoretical head impact velocity and post-impact head deceleration (Laker and Payne, TRB Circular 396; EN 1317-1; formulas
/// from memory). The head flies on straight over the ground while the vehicle brakes and yaws under it, until it has moved
/// a free distance forward or to a side in the compartment.
///
/// `None` where it never strikes within the record.
///
/// # Errors
/// [`OccupantFailure`] for settings, records of different lengths or too short, and samples that are no numbers.
pub fn head_impact(
    record: &YawingRecord<'_>,
    options: &HeadOptions,
) -> Result<Option<HeadImpact>, OccupantFailure> {
    options.check()?;
    check(record)?;
    let path = Path::over(record, options.head_m);
    let [x0, y0] = options.head_m;
    let past = |[x, y]: [f64; 2]| x - x0 >= options.forward_m || (y - y0).abs() >= options.lateral_m;
    let Some(after) = path.places.iter().position(|place| past(*place)) else { return Ok(None) };
    let before = after.saturating_sub(1);
    // Within a step the place is a cubic in time; halving finds the instant to its last bit.
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..52 {
        let middle = 0.5 * (low + high);
        if past(path.place(before, middle)) { high = middle } else { low = middle }
    }
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let flight_s = (before as f64 + high) * record.step_s;
    let velocity_m_s = path.velocity(before, high);
    Ok(Some(HeadImpact {
        flight_s,
        place_m: path.place(before, high),
        velocity_m_s,
        thiv_m_s: velocity_m_s[0].hypot(velocity_m_s[1]),
        phd_g: greatest_after(record, flight_s, options.window_s),
    }))
}

fn check(record: &YawingRecord<'_>) -> Result<(), OccupantFailure> {
    above_zero("step_s (s)", record.step_s)?;
    let expected = record.ax_m_s2.len();
    if expected < 2 {
        return Err(OccupantFailure::TooShort { what: "acceleration x", n_samples: expected });
    }
    for (what, samples) in [
        ("acceleration x", record.ax_m_s2),
        ("acceleration y", record.ay_m_s2),
        ("yaw rate", record.yaw_rad_s),
    ] {
        if samples.len() != expected {
            return Err(OccupantFailure::Lengths { what, found: samples.len(), expected });
        }
        all_finite(what, samples)?;
    }
    Ok(())
}

/// Place and velocity of the head in the compartment at every sample.
struct Path {
    step_s: f64,
    places: Vec<[f64; 2]>,
    velocities: Vec<[f64; 2]>,
}

impl Path {
    /// The vehicle is integrated in axes that stand still over its speed at contact, by trapezoids of what turned accelerations
    /// are; the head moves evenly there.
    fn over(record: &YawingRecord<'_>, head_m: [f64; 2]) -> Self {
        let h = record.step_s;
        let n = record.ax_m_s2.len();
        let [x0, y0] = head_m;
        let start = [-record.yaw_rad_s[0] * y0, record.yaw_rad_s[0] * x0];
        let (mut yaw, mut speed, mut place) = (0.0_f64, [0.0; 2], [0.0; 2]);
        let mut path = Self { step_s: h, places: Vec::with_capacity(n), velocities: Vec::with_capacity(n) };
        let turned = |i: usize, yaw: f64| {
            let (sin, cos) = yaw.sin_cos();
            let (ax, ay) = (record.ax_m_s2[i], record.ay_m_s2[i]);
            [ax * cos - ay * sin, ax * sin + ay * cos]
        };
        for i in 0..n {
            #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
            let t = i as f64 * h;
            let apart = [x0 + start[0] * t - place[0], y0 + start[1] * t - place[1]];
            let closing = [start[0] - speed[0], start[1] - speed[1]];
            let rate = record.yaw_rad_s[i];
            let [x, y] = back(apart, yaw);
            let [vx, vy] = back(closing, yaw);
            path.places.push([x, y]);
            path.velocities.push([vx + y * rate, vy - x * rate]);
            let Some(&next_rate) = record.yaw_rad_s.get(i + 1) else { break };
            let next_yaw = yaw + 0.5 * (rate + next_rate) * h;
            let (a, b) = (turned(i, yaw), turned(i + 1, next_yaw));
            for axis in 0..2 {
                place[axis] += speed[axis] * h + (2.0 * a[axis] + b[axis]) * h * h / 6.0;
                speed[axis] += 0.5 * (a[axis] + b[axis]) * h;
            }
            yaw = next_yaw;
        }
        path
    }

    /// Between a sample and the next, by both places and velocities (Hermite).
    fn place(&self, i: usize, share: f64) -> [f64; 2] {
        let Some(next) = self.places.get(i + 1) else { return self.places[i] };
        let (s, h) = (share, self.step_s);
        [0, 1].map(|axis| {
            let (p, q) = (self.places[i][axis], next[axis]);
            let (u, v) = (self.velocities[i][axis] * h, self.velocities[i + 1][axis] * h);
            (1.0 + 2.0 * s) * (1.0 - s).powi(2) * p
                + s * (1.0 - s).powi(2) * u
                + s * s * (3.0 - 2.0 * s) * q
                + s * s * (s - 1.0) * v
        })
    }

    fn velocity(&self, i: usize, share: f64) -> [f64; 2] {
        let next = self.velocities.get(i + 1).copied().unwrap_or(self.velocities[i]);
        [0, 1].map(|axis| self.velocities[i][axis] + share * (next[axis] - self.velocities[i][axis]))
    }
}

/// A vector of still axes in those of a body turned by `yaw`.
fn back([x, y]: [f64; 2], yaw: f64) -> [f64; 2] {
    let (sin, cos) = yaw.sin_cos();
    [x * cos + y * sin, -x * sin + y * cos]
}

/// Greatest horizontal mean over the window, among windows that begin at a sample after `from_s`, g.
fn greatest_after(record: &YawingRecord<'_>, from_s: f64, window_s: f64) -> Option<f64> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a float cast saturates, and the record's length bounds it"
    )]
    let (first, width) =
        ((from_s / record.step_s).ceil() as usize, (window_s / record.step_s).round().max(1.0) as usize);
    let means = |samples: &[f64]| crate::means::means(samples, width);
    let (x, y) = (means(record.ax_m_s2), means(record.ay_m_s2));
    let size = |(x, y): (&f64, &f64)| x.hypot(*y) / STANDARD_GRAVITY_M_S2;
    x.iter().zip(&y).skip(first).map(size).max_by(f64::total_cmp)
}

#[cfg(test)]
mod tests;
