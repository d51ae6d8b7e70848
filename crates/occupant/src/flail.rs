//! Flail-space figures from decelerations along one or two axes of the vehicle.

use crate::OccupantFailure;
use crate::failure::{above_zero, all_finite};
use crate::pulse::Pulse;

/// Settings of the flail-space model. Defaults: NCHRP 350 and MASH.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlailOptions {
    /// Free distance forward, m.
    pub forward_m: f64,
    /// Free distance to either side, m.
    pub lateral_m: f64,
    /// Length of the window that ridedown is averaged over, s.
    pub ridedown_window_s: f64,
}

impl Default for FlailOptions {
    fn default() -> Self {
        Self { forward_m: 0.6, lateral_m: 0.3, ridedown_window_s: 0.010 }
    }
}

impl FlailOptions {
    /// Whether all settings are finite and above 0.
    ///
    /// # Errors
    /// [`OccupantFailure::Settings`] naming the first that is not.
    pub fn check(&self) -> Result<(), OccupantFailure> {
        above_zero("forward_m (m)", self.forward_m)?;
        above_zero("lateral_m (m)", self.lateral_m)?;
        above_zero("ridedown_window_s (s)", self.ridedown_window_s)
    }
}

/// The axis along which the occupant strikes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// Forward.
    X,
    /// To a side.
    Y,
}

/// Flail-space figures of one test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlailSpace {
    /// When the occupant strikes, s on the caller's clock; `None` when it never does within the record.
    pub impact_time_s: Option<f64>,
    /// Occupant impact velocity forward, m/s; the whole speed change when the occupant never strikes.
    pub impact_velocity_x_m_s: f64,
    /// Occupant impact velocity sideways, m/s; `None` without a lateral record.
    pub impact_velocity_y_m_s: Option<f64>,
    /// Ridedown deceleration along x, m/s², signed; `None` when the occupant never strikes, or the record
    /// ends less than one window after that.
    pub ridedown_x_m_s2: Option<f64>,
    /// Ridedown deceleration along y, m/s², signed; `None` as for x, or without a lateral record.
    pub ridedown_y_m_s2: Option<f64>,
    /// Whether the occupant strikes within the record.
    pub reached: bool,
    /// Axis of the first strike; `X` when there is none.
    pub limiting: Axis,
}

/// Flail-space figures from decelerations at the centre of gravity, vehicle axes, filtered to class 180.
///
/// The first sample belongs to contact, at `contact_s`; decelerations are positive, `step_s` apart, and taken as
/// straight lines between samples. One instant of impact holds for both axes: the first at which the
/// occupant has moved the free distance along either. Ridedown is the largest mean over the window that
/// starts at or after impact, each axis on its own.
///
/// # Errors
/// [`OccupantFailure`] for settings, fewer than two samples, unequal lengths or samples that are not finite.
pub fn flail_from_acceleration(
    contact_s: f64,
    step_s: f64,
    ax_m_s2: &[f64],
    ay_m_s2: Option<&[f64]>,
    options: &FlailOptions,
) -> Result<FlailSpace, OccupantFailure> {
    options.check()?;
    above_zero("step_s (s)", step_s)?;
    all_finite("contact time", &[contact_s])?;
    check_record("deceleration x", ax_m_s2)?;
    if let Some(ay_m_s2) = ay_m_s2 {
        check_record("deceleration y", ay_m_s2)?;
        if ay_m_s2.len() != ax_m_s2.len() {
            let (found, expected) = (ay_m_s2.len(), ax_m_s2.len());
            return Err(OccupantFailure::Lengths { what: "deceleration y", found, expected });
        }
    }
    let x = Pulse::new(step_s, ax_m_s2);
    let y = ay_m_s2.map(|ay_m_s2| Pulse::new(step_s, ay_m_s2));
    let (impact_s, limiting) = first_strike(&x, y.as_ref(), options);
    let at_s = impact_s.unwrap_or(x.end_s());
    let ridedown = |pulse: &Pulse<'_>| pulse.largest_mean(impact_s?, options.ridedown_window_s);
    Ok(FlailSpace {
        impact_time_s: impact_s.map(|impact_s| contact_s + impact_s),
        impact_velocity_x_m_s: x.speed_at(at_s),
        impact_velocity_y_m_s: y.as_ref().map(|y| y.speed_at(at_s)),
        ridedown_x_m_s2: ridedown(&x),
        ridedown_y_m_s2: y.as_ref().and_then(ridedown),
        reached: impact_s.is_some(),
        limiting,
    })
}

fn check_record(what: &'static str, samples: &[f64]) -> Result<(), OccupantFailure> {
    if samples.len() < 2 {
        return Err(OccupantFailure::TooShort { what, n_samples: samples.len() });
    }
    all_finite(what, samples)
}

fn first_strike(x: &Pulse<'_>, y: Option<&Pulse<'_>>, options: &FlailOptions) -> (Option<f64>, Axis) {
    let forward_s = x.reaches(options.forward_m);
    let lateral_s = y.and_then(|y| y.reaches(options.lateral_m));
    match (forward_s, lateral_s) {
        (Some(forward_s), Some(lateral_s)) if lateral_s < forward_s => (Some(lateral_s), Axis::Y),
        (None, Some(lateral_s)) => (Some(lateral_s), Axis::Y),
        (forward_s, _) => (forward_s, Axis::X),
    }
}

#[cfg(test)]
mod tests;
