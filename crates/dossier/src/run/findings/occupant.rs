//! Flail-space figures from film: how fast a loose occupant would strike the interior.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::impact::needed;
use super::{Made, Raw};
use crate::document::Role;
use filmgauge_motion::RunUp;
use filmgauge_occupant::FlailSpace;

/// Shown with every occupant figure.
pub(crate) const CAUTION: &str =
    "supports an engineer's judgement; limits and procedures of the governing standard in force prevail";

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let Some(striking) = inputs.plan.bodies.iter().find(|body| body.role == Role::Striking) else {
        return Vec::new();
    };
    let flail = needed(motion, Role::Striking).and_then(|body| Flail::of(inputs, motion, body));
    let forward_m = inputs.options.flail.forward_m;
    let raw = |name, unit, made, what: &str| Raw {
        name,
        subject: striking.id.to_string(),
        unit,
        made,
        method: format!("flail space, {forward_m} m forward at the contact speed: {what}"),
        caution: Some(CAUTION.into()),
        also: Vec::new(),
        absent: false,
    };
    vec![
        raw(
            "occupant_impact_velocity",
            "m/s",
            flail.clone().map(|flail| flail.velocity()),
            "speed against the body",
        ),
        raw("occupant_impact_time", "s", flail.clone().and_then(|flail| flail.time()), "instant of impact"),
        raw(
            "ridedown_acceleration",
            "m/s2",
            flail.and_then(|flail| flail.ridedown()),
            "greatest 10 ms mean after it",
        ),
    ]
}

/// The loose occupant's way through the vehicle, from contact on.
pub(crate) struct FreeFlight {
    /// Contact, s from time zero.
    pub(crate) contact_s: f64,
    /// Speed along the path, that of the vehicle at contact, m/s.
    pub(crate) speed_m_s: f64,
    /// Impact with the interior; `None` where the film ends before it.
    pub(crate) impact_s: Option<f64>,
}

/// The free flight in the striking body; `None` where it cannot be told.
pub(crate) fn free_flight<'a>(
    inputs: &Inputs<'_>,
    motion: &'a CameraMotion,
) -> Option<(&'a BodyState, FreeFlight)> {
    let body = motion.with_role(Role::Striking)?;
    let flail = Flail::of(inputs, motion, body).ok()?;
    let flight = FreeFlight {
        contact_s: flail.contact_s,
        speed_m_s: flail.run_up.speed.value.as_m_s(),
        impact_s: flail.found.impact_time_s,
    };
    Some((body, flight))
}

#[derive(Clone)]
struct Flail<'a> {
    found: FlailSpace,
    run_up: RunUp,
    body: &'a BodyState,
    contact_s: f64,
    window_s: f64,
}

impl<'a> Flail<'a> {
    fn of(inputs: &Inputs<'_>, motion: &CameraMotion, body: &'a BodyState) -> Result<Self, String> {
        motion.contact.as_ref().map_err(Clone::clone)?;
        let contact_s = motion.contact_s();
        let run_up = super::impact::run_up(inputs, motion, body)?;
        let (at_contact, _) = body.motion.x.at(contact_s).ok_or("the film does not show contact")?;
        let travel_m: Vec<f64> = body.motion.x.states.iter().map(|state| state[0] - at_contact[0]).collect();
        let speed_m_s: Vec<f64> = body.motion.x.states.iter().map(|state| state[1]).collect();
        let found = filmgauge_occupant::flail_from_motion(
            contact_s,
            run_up.speed.value.as_m_s(),
            &body.motion.x.times_s,
            &travel_m,
            &speed_m_s,
            &inputs.options.flail,
        )
        .map_err(|failure| failure.to_string())?;
        let window_s = inputs.options.flail.ridedown_window_s;
        Ok(Self { found, run_up, body, contact_s, window_s })
    }

    /// Variances of place and speed, and the deceleration, at the instant of impact.
    fn at_impact(&self) -> Option<(f64, f64, f64)> {
        let (state, cov) = self.body.motion.x.at(self.found.impact_time_s?)?;
        Some((cov[0][0].max(0.0), cov[1][1].max(0.0), -state[2]))
    }

    /// v = v0 - v(t*), with t* from v0 t* - s(t*) = distance: first-order propagation of v0, s and v.
    fn velocity(&self) -> Made {
        let value = self.found.impact_velocity_x_m_s;
        let u_run_up = self.run_up.speed.u.as_m_s();
        let marks_u = match (self.at_impact(), self.found.impact_time_s) {
            (Some((s_var, v_var, deceleration)), Some(time_s)) if value != 0.0 => {
                let by_run_up = 1.0 - deceleration * (time_s - self.contact_s) / value;
                let by_place = deceleration / value;
                ((by_run_up * u_run_up).powi(2) + by_place * by_place * s_var + v_var).sqrt()
            }
            _ => {
                let last = self.body.motion.x.covs.last().map_or(0.0, |cov| cov[1][1].max(0.0));
                (u_run_up * u_run_up + last).sqrt()
            }
        };
        let end_s = self.found.impact_time_s.unwrap_or(self.contact_s);
        Made { value, marks_u, interval_s: [self.contact_s, end_s] }
    }

    fn time(&self) -> Result<Made, String> {
        let not_reached = "the occupant does not reach the interior within the film";
        let time_s = self.found.impact_time_s.ok_or(not_reached)?;
        let (s_var, _, _) = self.at_impact().ok_or(not_reached)?;
        let flight_s = time_s - self.contact_s;
        let speed_m_s = self.found.impact_velocity_x_m_s;
        let marks_u = (s_var + (flight_s * self.run_up.speed.u.as_m_s()).powi(2)).sqrt() / speed_m_s.abs();
        Ok(Made { value: time_s, marks_u, interval_s: [self.contact_s, time_s] })
    }

    fn ridedown(&self) -> Result<Made, String> {
        let reason = "the film ends before a full window after the occupant's impact";
        let value = self.found.ridedown_x_m_s2.ok_or(reason)?;
        let (_, v_var, _) = self.at_impact().ok_or(reason)?;
        let from_s = self.found.impact_time_s.ok_or(reason)?;
        let end_s = self.body.motion.x.times_s.last().copied().unwrap_or(from_s);
        Ok(Made { value, marks_u: (2.0 * v_var).sqrt() / self.window_s, interval_s: [from_s, end_s] })
    }
}
