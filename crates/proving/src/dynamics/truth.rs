//! The truth of a rehearsal: place, speed and acceleration of both vehicles at any instant.

use super::crush::Squeeze;
use super::state::State;
use crate::Scene;

/// Place of a vehicle's c.g. and its first and second rates, world axes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BodyInstant {
    /// Along the path, m.
    pub x_m: f64,
    /// Above the ground, m.
    pub z_m: f64,
    /// Nose up, rad.
    pub pitch_rad: f64,
    /// Along the path, m/s.
    pub vx_m_s: f64,
    /// Upwards, m/s.
    pub vz_m_s: f64,
    /// Nose up, rad/s.
    pub pitch_rate_rad_s: f64,
    /// Along the path, m/s².
    pub ax_m_s2: f64,
    /// Upwards, m/s².
    pub az_m_s2: f64,
    /// Nose up, rad/s².
    pub pitch_acceleration_rad_s2: f64,
    /// To the left of the truck's middle line, m.
    pub y_m: f64,
    /// Nose left, rad.
    pub yaw_rad: f64,
}

/// Everything that moves, at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Instant {
    /// Seconds from time zero.
    pub t_s: f64,
    /// The car's c.g.
    pub car: BodyInstant,
    /// The truck's c.g.
    pub truck: BodyInstant,
    /// Shortening of the car's front, m.
    pub front_crush_m: f64,
    /// Its rate, m/s.
    pub front_crush_rate_m_s: f64,
    /// Shortening of the cushion, m.
    pub cushion_stroke_m: f64,
    /// Its rate, m/s.
    pub cushion_rate_m_s: f64,
    /// Force between car and truck, N.
    pub crush_force_n: f64,
}

/// The motion of a whole test.
#[derive(Debug, Clone)]
pub struct Truth {
    nodes: Vec<Node>,
    start: Start,
    /// Seconds from time zero at first touch.
    pub contact_s: f64,
    /// Seconds from time zero at which car and truck first part; none when they stay together.
    pub separation_s: Option<f64>,
    /// Seconds from time zero up to which the motion was computed.
    pub end_s: f64,
}

/// One step of the integration: state and rates at its beginning.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    pub t_s: f64,
    pub state: State,
    pub rate: State,
    pub squeeze: Squeeze,
    pub squeezing: bool,
    pub apart: bool,
}

impl Node {
    fn closing_rate(&self) -> f64 {
        if self.squeezing { self.state.closing_rate() } else { 0.0 }
    }
}

/// Places at contact.
#[derive(Debug, Clone, Copy)]
struct Start {
    car_x_m: f64,
    car_z_m: f64,
    truck_x_m: f64,
    truck_z_m: f64,
    car_y_m: f64,
    car_yaw_rad: f64,
}

impl Truth {
    pub(super) fn new(scene: &Scene, nodes: Vec<Node>) -> Self {
        let contact_s = 0.0 - scene.flash.delay_s;
        let separation_s = nodes.iter().find(|node| node.apart).map(|node| node.t_s + contact_s);
        let end_s = nodes.last().map_or(0.0, |node| node.t_s) + contact_s;
        let (left_m, heading_deg) =
            scene.car.aside.as_ref().map_or((0.0, 0.0), |aside| (aside.left_m, aside.heading_deg));
        let start = Start {
            car_y_m: left_m,
            car_yaw_rad: heading_deg.to_radians(),
            car_x_m: -scene.car.nose_m * heading_deg.to_radians().cos(),
            car_z_m: scene.car.cg_height_m,
            truck_x_m: scene.truck.cg_x_m,
            truck_z_m: scene.truck.cg_height_m,
        };
        Self { nodes, start, contact_s, separation_s, end_s }
    }

    /// Everything at `t_s` seconds from time zero. Before contact the car runs at constant speed; beyond the end of
    /// the computed motion the last instant is held.
    #[must_use]
    pub fn at(&self, t_s: f64) -> Instant {
        let after_contact_s = t_s - self.contact_s;
        let index = self.nodes.partition_point(|node| node.t_s <= after_contact_s);
        match (index.checked_sub(1).and_then(|i| self.nodes.get(i)), self.nodes.get(index)) {
            (Some(from), Some(to)) => self.between(t_s, after_contact_s, from, to),
            (Some(last), None) => self.instant(t_s, &last.state, &last.rate, &last.squeeze, last.squeezing),
            (None, first) => self.before_contact(t_s, after_contact_s, first),
        }
    }

    /// Work done on cushion and front, and against drag, up to the end of the motion, J.
    #[must_use]
    pub fn final_work_j(&self) -> (f64, f64) {
        self.nodes.last().map_or((0.0, 0.0), |node| (node.state.crush_work(), node.state.drag_work()))
    }

    fn before_contact(&self, t_s: f64, after_contact_s: f64, first: Option<&Node>) -> Instant {
        let (mut state, mut rate) = (State::default(), State::default());
        for place in [0, 10] {
            state.0[place + 1] = first.map_or(0.0, |node| node.state.0[place + 1]);
            state.0[place] = state.0[place + 1] * after_contact_s;
            rate.0[place] = state.0[place + 1];
        }
        self.instant(t_s, &state, &rate, &Squeeze::default(), false)
    }

    fn between(&self, t_s: f64, after_contact_s: f64, from: &Node, to: &Node) -> Instant {
        let step_s = to.t_s - from.t_s;
        let share = (after_contact_s - from.t_s) / step_s;
        let mut state = from.state;
        let mut rate = from.rate;
        for pair in [0, 2, 4, 6, 10, 12] {
            let ends =
                [from, to].map(|node| [node.state.0[pair], node.state.0[pair + 1], node.rate.0[pair + 1]]);
            let [place, speed, acceleration] = hermite(ends, step_s, share);
            state.0[pair] = place;
            state.0[pair + 1] = speed;
            rate.0[pair] = speed;
            rate.0[pair + 1] = acceleration;
        }
        let mixed = |a: f64, b: f64| a + (b - a) * share;
        let front_rates = [from, to].map(|node| node.squeeze.front_slope * node.closing_rate());
        let front_m = cubic([from.squeeze.front_m, to.squeeze.front_m], front_rates, step_s, share);
        let squeeze = Squeeze {
            total_m: state.closing(),
            force_n: mixed(from.squeeze.force_n, to.squeeze.force_n),
            cushion_m: if from.squeezing { state.closing() - front_m } else { from.squeeze.cushion_m },
            front_m,
            front_slope: mixed(from.squeeze.front_slope, to.squeeze.front_slope),
        };
        self.instant(t_s, &state, &rate, &squeeze, from.squeezing)
    }

    fn instant(&self, t_s: f64, state: &State, rate: &State, squeeze: &Squeeze, squeezing: bool) -> Instant {
        let closing_rate = if squeezing { state.closing_rate() } else { 0.0 };
        let front_rate = squeeze.front_slope * closing_rate;
        Instant {
            t_s,
            car: BodyInstant {
                x_m: self.start.car_x_m + state.car_x(),
                z_m: self.start.car_z_m + state.heave(),
                pitch_rad: state.pitch(),
                vx_m_s: state.car_v(),
                vz_m_s: state.heave_rate(),
                pitch_rate_rad_s: state.pitch_rate(),
                ax_m_s2: rate.0[1],
                az_m_s2: rate.0[3],
                pitch_acceleration_rad_s2: rate.0[5],
                y_m: self.start.car_y_m + state.left(),
                yaw_rad: self.start.car_yaw_rad + state.yaw(),
            },
            truck: BodyInstant {
                x_m: self.start.truck_x_m + state.truck_x(),
                z_m: self.start.truck_z_m,
                vx_m_s: state.truck_v(),
                ax_m_s2: rate.0[7],
                ..BodyInstant::default()
            },
            front_crush_m: squeeze.front_m,
            front_crush_rate_m_s: front_rate,
            cushion_stroke_m: squeeze.cushion_m,
            cushion_rate_m_s: closing_rate - front_rate,
            crush_force_n: squeeze.force_n,
        }
    }
}

/// Place, speed and acceleration inside a step whose ends are known to the second rate: quintic Hermite for the
/// place, cubic for the speed, linear for the acceleration.
fn hermite([from, to]: [[f64; 3]; 2], step_s: f64, share: f64) -> [f64; 3] {
    let (u, h) = (share, step_s);
    let rest = to[0] - from[0] - h * from[1] - 0.5 * h * h * from[2];
    let rest_speed = (to[1] - from[1] - h * from[2]) * h;
    let rest_acceleration = (to[2] - from[2]) * h * h;
    let third = 10.0 * rest - 4.0 * rest_speed + 0.5 * rest_acceleration;
    let fourth = -15.0 * rest + 7.0 * rest_speed - rest_acceleration;
    let fifth = 6.0 * rest - 3.0 * rest_speed + 0.5 * rest_acceleration;
    let place =
        from[0] + u * h * (from[1] + 0.5 * u * h * from[2]) + u * u * u * (third + u * (fourth + u * fifth));
    [place, cubic([from[1], to[1]], [from[2], to[2]], h, u), from[2] + u * (to[2] - from[2])]
}

/// A value inside a step whose ends are known to the first rate.
fn cubic(values: [f64; 2], rates: [f64; 2], step_s: f64, share: f64) -> f64 {
    let blend = share * share * (3.0 - 2.0 * share);
    let bend = step_s * share * (1.0 - share) * ((1.0 - share) * rates[0] - share * rates[1]);
    values[0] + blend * (values[1] - values[0]) + bend
}
