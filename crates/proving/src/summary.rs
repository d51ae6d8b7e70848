//! The true findings, in the words of the sheet.

use crate::clock::FrameClock;
use crate::dynamics::{Instant, Truth};
use crate::scene::{BodyName, Scene, TargetPaint};
use crate::view::View;
use filmgauge_quantities::ViewPlane;
use serde::Serialize;

/// Flail distance of the loose occupant, m: 0.6 m forward.
const FLAIL_M: f64 = 0.6;
/// Width of the mean of the ridedown acceleration, s.
const RIDEDOWN_S: f64 = 0.010;
/// Step at which the motion is searched, s.
const SEARCH_S: f64 = 5e-5;

/// True values of the findings; times are seconds from time zero.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TruthSummary {
    /// First touch.
    pub contact_s: f64,
    /// First parting; none when car and truck stay together.
    pub separation_s: Option<f64>,
    /// Last mid-exposure of the first side camera, or of the first camera.
    pub film_end_s: f64,
    /// Speed of the car's c.g. at contact.
    pub contact_speed_m_s: f64,
    /// Greatest loss of speed of the car's c.g. after contact within the film; positive.
    pub delta_v_m_s: f64,
    /// Greatest nose-up pitch of the car.
    pub pitch_up_max_deg: f64,
    /// When.
    pub pitch_up_max_time_s: f64,
    /// Greatest rise of the climb point.
    pub climb_max_m: f64,
    /// Greatest shortening of the car from its nose target to its body.
    pub crush_max_m: f64,
    /// When.
    pub crush_max_time_s: f64,
    /// Shortening at the end of the film.
    pub crush_final_m: f64,
    /// Greatest closing of the car's nose target and the truck since contact.
    pub cushion_stroke_max_m: f64,
    /// Travel of the truck up to the end of the film.
    pub push_distance_m: f64,
    /// Greatest speed of the truck less the car's after the greatest stroke; 0 when none.
    pub rebound_speed_m_s: f64,
    /// Speed at which a loose occupant strikes the interior; none when it does not within the film.
    pub occupant_impact_velocity_m_s: Option<f64>,
    /// When.
    pub occupant_impact_time_s: Option<f64>,
    /// Greatest 10 ms mean of the car's deceleration after that; none when there was no strike.
    pub ridedown_m_s2: Option<f64>,
    /// Planted faults by channel.
    pub planted_faults: Vec<PlantedFault>,
}

/// The faults planted in one channel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlantedFault {
    /// Channel code.
    pub channel: String,
    /// Body that carries the sensor.
    pub body: String,
    /// Words such as `gain`; empty for a sound channel.
    pub faults: Vec<String>,
    /// True gain: reading divided by truth.
    pub gain: f64,
    /// True constant in the reading, m/s².
    pub offset_m_s2: f64,
    /// True lateness, s.
    pub lag_s: f64,
}

/// The true findings of a rehearsal.
#[must_use]
pub fn truth_summary(scene: &Scene, truth: &Truth) -> TruthSummary {
    let film_end_s = film_end_s(scene, truth);
    let contact = truth.at(truth.contact_s);
    let story: Vec<Instant> = times(truth.contact_s, film_end_s).map(|t| truth.at(t)).collect();
    let end = truth.at(film_end_s);
    let nose = NosePoint::new(scene);
    let apart_m = |now: &Instant| now.truck.x_m - nose.x_m(now);
    let (pitch_time, pitch) = greatest(&story, |now| now.car.pitch_rad);
    let (crush_time, crush) = greatest(&story, |now| now.front_crush_m * nose.share);
    let (stroke_time, stroke) = greatest(&story, |now| apart_m(&contact) - apart_m(now));
    let late = story.iter().skip_while(|now| now.t_s < stroke_time);
    let occupant = occupant(truth, &story, film_end_s);
    TruthSummary {
        contact_s: truth.contact_s,
        separation_s: truth.separation_s.filter(|&t| t <= film_end_s),
        film_end_s,
        contact_speed_m_s: contact.car.vx_m_s,
        delta_v_m_s: greatest(&story, |now| contact.car.vx_m_s - now.car.vx_m_s).1,
        pitch_up_max_deg: pitch.to_degrees(),
        pitch_up_max_time_s: pitch_time,
        climb_max_m: climb_m(scene, &contact, &story),
        crush_max_m: crush,
        crush_max_time_s: crush_time,
        crush_final_m: end.front_crush_m * nose.share,
        cushion_stroke_max_m: stroke,
        push_distance_m: end.truck.x_m - contact.truck.x_m,
        rebound_speed_m_s: late.map(|now| now.truck.vx_m_s - now.car.vx_m_s).fold(0.0, f64::max),
        occupant_impact_velocity_m_s: occupant.map(|strike| strike.speed_m_s),
        occupant_impact_time_s: occupant.map(|strike| strike.t_s),
        ridedown_m_s2: occupant.and_then(|strike| strike.ridedown_m_s2),
        planted_faults: planted(scene),
    }
}

/// The true findings as JSON, with the field names of [`TruthSummary`] as keys.
#[must_use]
pub fn truth_json(scene: &Scene, truth: &Truth) -> serde_json::Value {
    serde_json::to_value(truth_summary(scene, truth)).unwrap_or(serde_json::Value::Null)
}

/// Last mid-exposure of the first side camera, else of the first camera, else the end of the scene.
fn film_end_s(scene: &Scene, truth: &Truth) -> f64 {
    let index = scene.cameras.iter().position(|camera| camera.view == ViewPlane::Side).unwrap_or(0);
    scene.camera(index).map_or(truth.contact_s + scene.after_s, |camera| {
        let clock = FrameClock::new(scene, camera, index);
        clock.mid_s(clock.n_frames - 1)
    })
}

fn times(from_s: f64, to_s: f64) -> impl Iterator<Item = f64> {
    (0_u32..).map(move |i| from_s + f64::from(i) * SEARCH_S).take_while(move |&t| t <= to_s)
}

fn greatest(story: &[Instant], value: impl Fn(&Instant) -> f64) -> (f64, f64) {
    story
        .iter()
        .map(|now| (now.t_s, value(now)))
        .fold((0.0, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best })
}

/// The nose as the side camera's first target in the crush zone marks it, else the nose itself at the c.g.'s height.
struct NosePoint<'a> {
    target: Option<(&'a TargetPaint, View)>,
    nose_m: f64,
    share: f64,
}

impl<'a> NosePoint<'a> {
    fn new(scene: &'a Scene) -> Self {
        let side = scene.cameras.iter().find(|camera| camera.view == ViewPlane::Side);
        let target = side.and_then(|camera| {
            let target = scene.targets_of(&camera.id).find(|target| target.crush_share > 0.0)?;
            Some((target, View::new(scene, camera)))
        });
        let share = target.as_ref().map_or(1.0, |(target, _)| target.crush_share);
        Self { target, nose_m: scene.car.nose_m, share }
    }

    fn x_m(&self, now: &Instant) -> f64 {
        match &self.target {
            Some((target, view)) => view.sighted(target, now, [0.0, 0.0]).x_m,
            None => now.car.x_m + (self.nose_m - now.front_crush_m) * now.car.pitch_rad.cos(),
        }
    }
}

fn climb_m(scene: &Scene, contact: &Instant, story: &[Instant]) -> f64 {
    let at_m = scene
        .climb_point
        .as_ref()
        .and_then(|id| scene.targets.iter().find(|target| target.id == *id && target.body == BodyName::Car))
        .map_or([0.0, 0.0], |target| target.at_m);
    let height = |now: &Instant| {
        let (sin, cos) = now.car.pitch_rad.sin_cos();
        now.car.z_m + at_m[0] * sin + at_m[1] * cos
    };
    greatest(story, |now| height(now) - height(contact)).1
}

#[derive(Debug, Clone, Copy)]
struct Strike {
    t_s: f64,
    speed_m_s: f64,
    ridedown_m_s2: Option<f64>,
}

/// A free point mass that keeps the contact speed until it has moved 0.6 m in the compartment (Michie 1981).
fn occupant(truth: &Truth, story: &[Instant], film_end_s: f64) -> Option<Strike> {
    let contact = truth.at(truth.contact_s);
    let moved = |t: f64| {
        contact.car.vx_m_s * (t - truth.contact_s) - (truth.at(t).car.x_m - contact.car.x_m) - FLAIL_M
    };
    let after = story.iter().find(|now| moved(now.t_s) >= 0.0)?.t_s;
    let (mut low, mut high) = (after - SEARCH_S, after);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if moved(middle) >= 0.0 { high = middle } else { low = middle }
    }
    let speed_m_s = contact.car.vx_m_s - truth.at(high).car.vx_m_s;
    let mean = |t: f64| (truth.at(t).car.vx_m_s - truth.at(t + RIDEDOWN_S).car.vx_m_s) / RIDEDOWN_S;
    let ridedown_m_s2 = times(high, film_end_s - RIDEDOWN_S).map(mean).reduce(f64::max);
    Some(Strike { t_s: high, speed_m_s, ridedown_m_s2 })
}

fn planted(scene: &Scene) -> Vec<PlantedFault> {
    use crate::scene::Fault;
    scene
        .channels
        .iter()
        .map(|channel| {
            let mut planted = PlantedFault {
                channel: channel.code.clone(),
                body: channel.body.word().to_owned(),
                faults: channel.faults.iter().map(|fault| fault.word().to_owned()).collect(),
                gain: 1.0,
                offset_m_s2: channel.offset_m_s2,
                lag_s: 0.0,
            };
            for fault in &channel.faults {
                let factor = match fault {
                    Fault::Gain { factor } => *factor,
                    Fault::Polarity => -1.0,
                    Fault::Offset { .. } | Fault::Delay { .. } => 1.0,
                };
                planted.gain *= factor;
                planted.offset_m_s2 *= factor;
                match fault {
                    Fault::Offset { m_s2 } => planted.offset_m_s2 += m_s2,
                    Fault::Delay { s } => planted.lag_s += s,
                    Fault::Gain { .. } | Fault::Polarity => {}
                }
            }
            planted
        })
        .collect()
}
