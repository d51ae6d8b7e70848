//! True values of the findings, straight from the equations of motion.

use filmgauge_occupant::{FigureOptions, SevereAxis, SevereRecord, occupant_figures};
use filmgauge_proving::{Instant, Scene, Truth, TruthSummary, truth_marks, truth_summary};
use filmgauge_quantities::{STANDARD_GRAVITY_M_S2, ViewPlane};

/// Step of the search, s.
const STEP_S: f64 = 5e-5;
/// The ramping angle counts while the car is faster than this share of its contact speed.
const FORWARD_SHARE: f64 = 0.25;
/// It is taken over so long a stretch, s.
const RAMP_S: f64 = 0.050;
/// The car runs on evenly for so long before contact, s.
const REST_S: f64 = 0.6;
/// Figures that film gives beyond its flail space.
const SEVERITY: [&str; 6] = [
    "head_impact_velocity",
    "head_impact_time",
    "head_deceleration",
    "severity_index",
    "mean_10ms",
    "mean_50ms",
];

/// Camera, finding and its true value; what the test does not hold has none.
#[must_use]
pub fn true_values(scene: &Scene, truth: &Truth) -> Vec<(&'static str, &'static str, f64)> {
    let summary = truth_summary(scene, truth);
    let story = Story::new(truth, &summary);
    let mut list: Vec<(&str, Option<f64>)> = known(&summary);
    list.extend(story.speeds(truth, &summary));
    list.extend(story.posture());
    list.extend(story.accelerations());
    list.extend(story.closure(scene));
    list.extend(story.severity());
    let side = list.into_iter().filter_map(|(name, value)| Some(("side", name, value?)));
    let aside = scene.car.aside.as_ref();
    let above = [
        ("contact_speed", summary.contact_speed_m_s),
        ("contact_angle", aside.map_or(0.0, |aside| aside.heading_deg)),
        ("lateral_offset", aside.map_or(0.0, |aside| aside.left_m)),
        ("push_distance", pushed_from_above(scene, truth)),
        ("push_heading", 0.0),
    ];
    side.chain(above.map(|(name, value)| ("overhead", name, value))).collect()
}

/// Travel of the truck up to the overhead camera's own last frame, m.
fn pushed_from_above(scene: &Scene, truth: &Truth) -> f64 {
    let index = scene.cameras.iter().position(|camera| camera.view == ViewPlane::Overhead).unwrap_or(0);
    let marks = truth_marks(scene, truth, index);
    let end_s = marks.iter().map(|mark| mark.time_s).fold(truth.contact_s, f64::max);
    truth.at(end_s).truck.x_m - truth.at(truth.contact_s).truck.x_m
}

fn known(summary: &TruthSummary) -> Vec<(&'static str, Option<f64>)> {
    vec![
        ("contact_time", Some(summary.contact_s)),
        ("contact_speed", Some(summary.contact_speed_m_s)),
        ("closing_speed", Some(summary.contact_speed_m_s)),
        ("delta_v", Some(summary.delta_v_m_s)),
        ("pitch_up_max", Some(summary.pitch_up_max_deg)),
        ("pitch_up_max_time", Some(summary.pitch_up_max_time_s)),
        ("climb_max", Some(summary.climb_max_m)),
        ("crush_max", Some(summary.crush_max_m)),
        ("crush_max_time", Some(summary.crush_max_time_s)),
        ("crush_final", Some(summary.crush_final_m)),
        ("cushion_stroke_max", Some(summary.cushion_stroke_max_m)),
        ("push_distance", Some(summary.push_distance_m)),
        ("occupant_impact_velocity", summary.occupant_impact_velocity_m_s),
        ("occupant_impact_time", summary.occupant_impact_time_s),
        ("ridedown_acceleration", summary.ridedown_m_s2),
        ("separation_time", summary.separation_s),
    ]
}

/// The motion from contact to the end of the film.
struct Story {
    all: Vec<Instant>,
}

/// Steps of the search in a window.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few hundred steps")]
fn steps(window_s: f64) -> usize {
    (window_s / STEP_S).round() as usize
}

type Named = (&'static str, Option<f64>);

impl Story {
    fn new(truth: &Truth, summary: &TruthSummary) -> Self {
        let times = (0_u32..).map(|i| truth.contact_s + f64::from(i) * STEP_S);
        Self { all: times.take_while(|&t| t <= summary.film_end_s).map(|t| truth.at(t)).collect() }
    }

    fn most(&self, of: impl Fn(&Instant) -> f64) -> Option<&Instant> {
        self.all.iter().max_by(|a, b| of(a).total_cmp(&of(b)))
    }

    fn met(&self) -> Option<&Instant> {
        self.all.iter().skip(1).find(|now| now.car.vx_m_s <= now.truck.vx_m_s)
    }

    fn speeds(&self, truth: &Truth, summary: &TruthSummary) -> Vec<Named> {
        let met = self.met();
        let parts = truth.separation_s.is_some_and(|at| at < summary.film_end_s);
        let rebound = parts.then_some(summary.rebound_speed_m_s);
        let peak = self.most(|now| now.truck.vx_m_s);
        let is_at_rest = |speed: f64| speed.abs() < 0.005;
        let last = self.all.last();
        let rests = last.filter(|now| is_at_rest(now.truck.vx_m_s));
        vec![
            ("common_speed", met.map(|now| now.truck.vx_m_s)),
            ("common_speed_time", met.map(|now| now.t_s)),
            ("rebound_speed", rebound),
            ("restitution", rebound.map(|speed| speed / summary.contact_speed_m_s)),
            ("peak_speed", peak.map(|now| now.truck.vx_m_s)),
            ("rest_distance", rests.map(|now| now.truck.x_m - self.all[0].truck.x_m)),
        ]
    }

    fn posture(&self) -> Vec<Named> {
        let down = self.most(|now| -now.car.pitch_rad);
        // What hardly stands out of the noise of the level is rightly left out.
        let down = down.filter(|now| now.car.pitch_rad.to_degrees() < -0.1);
        let is_inner = down.zip(self.all.last()).is_some_and(|(down, last)| down.t_s < last.t_s - 0.005);
        let start = self.all[0].car.vx_m_s;
        let n_forward = self.all.iter().take_while(|now| now.car.vx_m_s > FORWARD_SHARE * start).count();
        let forward = &self.all[..n_forward];
        let pairs = forward.iter().zip(forward.iter().skip(steps(RAMP_S)));
        let angle = |(from, to): (&Instant, &Instant)| {
            (to.car.z_m - from.car.z_m).atan2(to.car.x_m - from.car.x_m).to_degrees()
        };
        let steep = pairs.map(angle).reduce(f64::max);
        vec![
            ("pitch_down_max", down.map(|now| -now.car.pitch_rad.to_degrees())),
            ("pitch_down_max_time", down.filter(|_| is_inner).map(|now| now.t_s)),
            ("ramp_angle", steep),
        ]
    }

    fn accelerations(&self) -> Vec<Named> {
        let mean = |window_s: f64, of: fn(&Instant) -> f64| {
            let pairs = self.all.iter().zip(self.all.iter().skip(steps(window_s)));
            pairs.map(|(from, to)| (of(to) - of(from)) / window_s).reduce(f64::max)
        };
        let (car, truck) = (|now: &Instant| -now.car.vx_m_s, |now: &Instant| now.truck.vx_m_s);
        vec![
            ("deceleration_peak", self.most(|now| -now.car.ax_m_s2).map(|now| -now.car.ax_m_s2)),
            ("deceleration_10ms", mean(0.010, car)),
            ("deceleration_50ms", mean(0.050, car)),
            ("acceleration_peak", self.most(|now| now.truck.ax_m_s2).map(|now| now.truck.ax_m_s2)),
            ("acceleration_10ms", mean(0.010, truck)),
            ("acceleration_50ms", mean(0.050, truck)),
        ]
    }

    /// What sensors without fault at the c.g. would give of the motion along the path and up, unfiltered.
    fn severity(&self) -> Vec<Named> {
        let along = |of: fn(&Instant) -> f64| SevereAxis {
            values: std::iter::repeat_n(0.0, steps(REST_S)).chain(self.all.iter().map(of)).collect(),
            zero_u: 0.0,
            calibration_u: 0.0,
            noise: Vec::new(),
        };
        let contact_s = self.all[0].t_s;
        let record = SevereRecord {
            start_s: contact_s - REST_S,
            step_s: STEP_S,
            contact_s: (contact_s, 0.0),
            x: along(|now| {
                let (sin, cos) = now.car.pitch_rad.sin_cos();
                now.car.ax_m_s2 * cos + now.car.az_m_s2 * sin
            }),
            y: None,
            z: Some(along(|now| {
                let (sin, cos) = now.car.pitch_rad.sin_cos();
                now.car.az_m_s2 * cos - now.car.ax_m_s2 * sin
            })),
            yaw: None,
        };
        let figures = occupant_figures(&record, &FigureOptions::default()).unwrap_or_default();
        let value = |name: &str| {
            let figure = figures.iter().find(|figure| figure.name == name)?;
            figure.value.as_ref().ok().map(|(value, _)| *value)
        };
        SEVERITY.map(|name| (name, value(name))).to_vec()
    }

    fn closure(&self, scene: &Scene) -> Vec<Named> {
        let (m1, m2) = (scene.car.mass_kg, scene.truck.mass_kg);
        let drag_n = scene.truck.drag * m2 * STANDARD_GRAVITY_M_S2;
        let absorbed = self.met().map(|now| {
            let (start, car, truck) = (self.all[0].car.vx_m_s, now.car.vx_m_s, now.truck.vx_m_s);
            let pushed_m = now.truck.x_m - self.all[0].truck.x_m;
            0.5 * m1 * (start * start - car * car) - 0.5 * m2 * truck * truck - drag_n * pushed_m
        });
        vec![
            ("momentum_closure", Some(0.0)),
            ("energy_closure", self.met().map(|_| 0.0)),
            ("drag_force", Some(drag_n)),
            ("absorbed_energy", absorbed),
        ]
    }
}
