//! The state of car and truck, and its rate of change under given forces.

use super::phase::Rolling;
use crate::scene::{Aside, Scene, Tether};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use std::f64::consts::TAU;

/// Number of state variables.
const N: usize = 14;

/// Displacements since contact (m, rad), their rates, and the work done so far (J).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct State(pub [f64; N]);

impl State {
    pub(super) fn car_x(&self) -> f64 {
        self.0[0]
    }
    pub(super) fn car_v(&self) -> f64 {
        self.0[1]
    }
    pub(super) fn heave(&self) -> f64 {
        self.0[2]
    }
    pub(super) fn heave_rate(&self) -> f64 {
        self.0[3]
    }
    pub(super) fn pitch(&self) -> f64 {
        self.0[4]
    }
    pub(super) fn pitch_rate(&self) -> f64 {
        self.0[5]
    }
    pub(super) fn truck_x(&self) -> f64 {
        self.0[6]
    }
    pub(super) fn truck_v(&self) -> f64 {
        self.0[7]
    }
    /// Work done on cushion and front, J.
    pub(super) fn crush_work(&self) -> f64 {
        self.0[8]
    }
    /// Work done against the drag of both vehicles, J.
    pub(super) fn drag_work(&self) -> f64 {
        self.0[9]
    }
    /// To the left of where it was at contact, m.
    pub(super) fn left(&self) -> f64 {
        self.0[10]
    }
    pub(super) fn left_rate(&self) -> f64 {
        self.0[11]
    }
    /// Nose left of where it pointed at contact, rad.
    pub(super) fn yaw(&self) -> f64 {
        self.0[12]
    }
    pub(super) fn yaw_rate(&self) -> f64 {
        self.0[13]
    }
    /// Total shortening of cushion and front, m.
    pub(super) fn closing(&self) -> f64 {
        self.car_x() - self.truck_x()
    }
    /// Rate of the shortening, m/s.
    pub(super) fn closing_rate(&self) -> f64 {
        self.car_v() - self.truck_v()
    }
    /// The state `rate * step` further on.
    pub(super) fn moved(&self, rate: &Self, step: f64) -> Self {
        let mut next = *self;
        for (value, slope) in next.0.iter_mut().zip(rate.0) {
            *value += slope * step;
        }
        next
    }
    /// The state with the truck's speed put to exactly zero.
    pub(super) fn truck_stopped(mut self) -> Self {
        self.0[7] = 0.0;
        self
    }
    /// The state with both at one speed exactly, momentum kept.
    pub(super) fn joined(mut self, masses: &Masses) -> Self {
        let common = (masses.car_kg * self.car_v() + masses.truck_kg * self.truck_v())
            / (masses.car_kg + masses.truck_kg);
        self.0[1] = common;
        self.0[7] = common;
        self
    }
}

/// Masses, springs and drags in the form that the rates need.
#[derive(Debug, Clone)]
pub(super) struct Masses {
    pub car_kg: f64,
    pub truck_kg: f64,
    pub truck_drag_n: f64,
    tether: Option<Tether>,
    car_drag_n: f64,
    lift_share: f64,
    pitch_arm_m: f64,
    pitch_inertia_kg_m2: f64,
    heave: Spring,
    pitch: Spring,
    aside: Option<Aside>,
    nose_m: f64,
}

impl Masses {
    pub(super) fn new(scene: &Scene) -> Self {
        let (car, truck) = (&scene.car, &scene.truck);
        Self {
            car_kg: car.mass_kg,
            truck_kg: truck.mass_kg,
            truck_drag_n: truck.drag * truck.mass_kg * STANDARD_GRAVITY_M_S2,
            tether: truck.tether,
            car_drag_n: car.rolling_drag * car.mass_kg * STANDARD_GRAVITY_M_S2,
            lift_share: car.lift_share,
            pitch_arm_m: car.pitch_arm_m,
            pitch_inertia_kg_m2: car.pitch_inertia_kg_m2,
            heave: Spring::new(car.heave_frequency_hz, car.heave_damping),
            pitch: Spring::new(car.pitch_frequency_hz, car.pitch_damping),
            aside: car.aside.clone(),
            nose_m: car.nose_m,
        }
    }

    /// Pull of the tether, backwards, N.
    pub(super) fn tether_n(&self, state: &State) -> f64 {
        self.tether.map_or(0.0, |tether| tether.n_per_m * (state.truck_x() - tether.slack_m).max(0.0))
    }

    /// Rate of change under the crush force. `rolling` says which way the truck's wheels slide; `locked` that both
    /// vehicles move as one, in which case the force between them follows from the common acceleration.
    pub(super) fn rate(&self, state: &State, crush_n: f64, rolling: Rolling, locked: bool) -> State {
        // The rolling drag turns with the motion over 1 cm/s, so that the car comes to rest without chatter.
        let car_drag = self.car_drag_n * (state.car_v() / 0.01).tanh();
        let truck_moves = rolling != Rolling::Stands;
        let truck_drag = rolling.sign() * self.truck_drag_n;
        let held_n = truck_drag + self.tether_n(state);
        let together = -(car_drag + held_n) / (self.car_kg + self.truck_kg);
        let joint = if truck_moves { together } else { 0.0 };
        let crush_n = if locked { -self.car_kg * joint - car_drag } else { crush_n };
        let car_a = if locked { joint } else { -(crush_n + car_drag) / self.car_kg };
        let truck_a = match (locked, truck_moves) {
            (true, _) => joint,
            (false, true) => (crush_n - held_n) / self.truck_kg,
            (false, false) => 0.0,
        };
        let push = crush_n.max(0.0);
        let heave_a =
            push * self.lift_share / self.car_kg + self.heave.pull(state.heave(), state.heave_rate());
        let pitch_a = push * self.pitch_arm_m / self.pitch_inertia_kg_m2
            + self.pitch.pull(state.pitch(), state.pitch_rate());
        let [left_a, yaw_a] = self.aside(state, push);
        State([
            state.car_v(),
            car_a,
            state.heave_rate(),
            heave_a,
            state.pitch_rate(),
            pitch_a,
            state.truck_v(),
            truck_a,
            crush_n * state.closing_rate(),
            car_drag * state.car_v() + truck_drag * state.truck_v(),
            state.left_rate(),
            left_a,
            state.yaw_rate(),
            yaw_a,
        ])
    }

    /// Accelerations to the left and about the yaw axis: the push acts beside the c.g., and its friction against sliding.
    fn aside(&self, state: &State, push_n: f64) -> [f64; 2] {
        let Some(aside) = &self.aside else { return [0.0; 2] };
        let nose_slides = state.left_rate() + self.nose_m * state.yaw_rate();
        // The friction turns with the sliding over 0.1 m/s, so that the nose comes to rest without chatter.
        let friction_n = -aside.friction * push_n * (nose_slides / 0.1).tanh();
        let arm_m = aside.force_left_m - aside.left_m - state.left();
        let torque = self.nose_m * friction_n + arm_m * push_n;
        let (sin, cos) = (aside.heading_deg.to_radians() + state.yaw()).sin_cos();
        let slip = state.left_rate() * cos - state.car_v() * sin;
        [
            friction_n / self.car_kg - aside.tyres_per_s * slip * cos,
            torque / aside.yaw_inertia_kg_m2 - aside.tyres_per_s * state.yaw_rate(),
        ]
    }
}

/// A damped spring by natural frequency, acting per unit of mass or inertia.
#[derive(Debug, Clone, Copy)]
struct Spring {
    omega: f64,
    damping: f64,
}

impl Spring {
    fn new(frequency_hz: f64, damping: f64) -> Self {
        Self { omega: TAU * frequency_hz, damping }
    }

    fn pull(self, place: f64, rate: f64) -> f64 {
        -self.omega * (self.omega * place + 2.0 * self.damping * rate)
    }
}
