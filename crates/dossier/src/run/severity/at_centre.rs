//! The striking body's channels, moved to its centre of gravity where the film tells how it pitches.

use crate::document::{AxisEntry, Role, StepEntry};
use crate::plan::{ChannelPlan, Plan};
use crate::run::budget::Budgeted;
use crate::run::channels::Record;
use filmgauge_motion::Smoothed;
use filmgauge_sensors::Channel;

/// A channel, and the steps that are not to be applied to it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Given<'a> {
    pub(crate) channel: &'a Channel,
    pub(crate) without: &'a [StepEntry],
}

impl<'a> Given<'a> {
    /// With every step applied.
    pub(crate) fn whole(channel: &'a Channel) -> Self {
        Self { channel, without: &[] }
    }
}

/// The channels of one vehicle at its centre of gravity: m/s², forward, left and up; rates in rad/s, nose left and nose up.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Channels<'a> {
    pub(crate) x: Given<'a>,
    pub(crate) y: Option<Given<'a>>,
    pub(crate) z: Option<Given<'a>>,
    pub(crate) yaw: Option<Given<'a>>,
    pub(crate) pitch: Option<Given<'a>>,
}

/// One channel moved to the c.g., with the steps left out.
type Held<'a> = (Channel, &'a [StepEntry]);

/// The striking body's channels nearest to its c.g., moved there where the film tells how the body pitches.
pub(crate) struct AtCentre<'a> {
    x: Held<'a>,
    others: [Option<Held<'a>>; 4],
}

impl AtCentre<'_> {
    pub(crate) fn channels(&self) -> Channels<'_> {
        let [y, z, yaw, pitch] = self
            .others
            .each_ref()
            .map(|held| held.as_ref().map(|(channel, without)| Given { channel, without }));
        Channels { x: Given { channel: &self.x.0, without: self.x.1 }, y, z, yaw, pitch }
    }

    /// The channel of a code as it is used in the occupant figures, and whether it is brought to another one's time base: that one's code.
    pub(crate) fn used(&self, code: &str) -> Option<(&Channel, Option<&str>)> {
        let forward = &self.x.0;
        if forward.code == code {
            return Some((forward, None));
        }
        let (channel, _) = self.others.iter().flatten().find(|(channel, _)| channel.code == code)?;
        let slack_s = 1e-6 * forward.step_s;
        let alike = (channel.step_s - forward.step_s).abs() < 1e-9 * forward.step_s
            && (channel.start_s - forward.start_s).abs() < slack_s;
        Some((channel, (!alike).then_some(forward.code.as_str())))
    }
}

/// `None` where no channel of the striking body senses forward, an error where that one is unusable.
pub(crate) fn of_striking<'a>(
    records: &'a [Record<'a>],
    plan: &Plan,
    side: Option<&Budgeted<'_>>,
) -> Option<Result<AtCentre<'a>, String>> {
    let striking = plan.bodies.iter().find(|body| body.role == Role::Striking)?;
    let nearest = |axis: AxisEntry, unit: &str| {
        records
            .iter()
            .filter(|record| record.plan.body == striking.id && record.plan.axis == axis)
            .filter(|record| record.channel.as_ref().map_or(unit == "m/s2", |channel| channel.unit == unit))
            .min_by(|a, b| {
                let reach = |record: &Record<'_>| record.plan.at.x_m.hypot(record.plan.at.z_m);
                reach(a).total_cmp(&reach(b))
            })
    };
    let angle = side
        .and_then(|camera| camera.motion.with_role(Role::Striking))
        .and_then(|body| body.motion.angle.as_ref());
    let held = |channel: &Channel, record: &'a Record<'a>| -> Held<'a> {
        (at_centre(channel, record.plan, angle), record.plan.without.as_slice())
    };
    let usable = |axis, unit| {
        let record = nearest(axis, unit)?;
        Some(held(record.channel.as_ref().ok()?, record))
    };
    let forward = nearest(AxisEntry::X, "m/s2")?;
    Some(forward.channel.as_ref().map_err(Clone::clone).map(|x| AtCentre {
        x: held(x, forward),
        others: [
            usable(AxisEntry::Y, "m/s2"),
            usable(AxisEntry::Z, "m/s2"),
            usable(AxisEntry::Z, "rad/s"),
            usable(AxisEntry::Y, "rad/s"),
        ],
    }))
}

/// An acceleration as it would be at the c.g.: the film's pitch rate and its change take the lever's share out, as long as the film
/// shows them. A sideways acceleration and a rate have no share of a pitch.
pub(crate) fn at_centre(channel: &Channel, plan: &ChannelPlan, angle: Option<&Smoothed>) -> Channel {
    let mut moved = channel.clone();
    let at = plan.at;
    let along = match plan.axis {
        AxisEntry::X => 0,
        AxisEntry::Z => 1,
        AxisEntry::Y => return moved,
    };
    let at_origin = at.x_m == 0.0 && at.z_m == 0.0;
    let moves = !at_origin && channel.unit == "m/s2" && plan.takes(StepEntry::Transfer);
    let Some(angle) = angle.filter(|_| moves) else { return moved };
    for index in 0..moved.values.len() {
        if let Some((state, _)) = angle.at(channel.time_s(index)) {
            moved.values[index] -= filmgauge_motion::lever_acceleration(at, state[1], state[2])[along];
        }
    }
    moved.steps.push(MOVED.to_owned());
    moved
}

/// The step that says so.
pub(crate) const MOVED: &str = "moved to the c.g. by the film's pitch";

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_motion::{SmoothOptions, smooth};
    use filmgauge_quantities::PlanePoint;

    /// A body that turns evenly at q: the sensor's place has -q² r more than the c.g. (formula of a rigid body, computed).
    #[test]
    fn a_lever_on_an_even_turn_is_taken_out() {
        let times_s: Vec<f64> = (0..100).map(|i| f64::from(i) * 1e-3).collect();
        let samples: Vec<_> = times_s.iter().map(|t| Some((2.0 * t, 1e-10))).collect();
        let angle = smooth(&times_s, &samples, &SmoothOptions::default()).unwrap();
        let channel = Channel {
            code: "ax".into(),
            unit: "m/s2".into(),
            start_s: -0.05,
            step_s: 1e-3,
            values: vec![7.0; 101],
            file: std::path::PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        };
        let plan = |x_m: f64, z_m: f64, axis: AxisEntry, without: Vec<StepEntry>| ChannelPlan {
            file: String::new(),
            code: "ax".into(),
            axis,
            unit: None,
            body: filmgauge_quantities::BodyId::new("car").unwrap(),
            at: PlanePoint::new(x_m, z_m),
            without,
        };
        for (axis, expected) in [(AxisEntry::X, 7.0 - 2.0), (AxisEntry::Z, 7.0 - 1.2), (AxisEntry::Y, 7.0)] {
            let moved = at_centre(&channel, &plan(-0.5, -0.3, axis, Vec::new()), Some(&angle));
            assert!((moved.values[90] - expected).abs() < 0.05, "{axis:?} {}", moved.values[90]);
            assert!((moved.values[10] - 7.0).abs() < 1e-12, "before the film: {}", moved.values[10]);
        }
        let still = at_centre(&channel, &plan(0.0, 0.0, AxisEntry::X, Vec::new()), Some(&angle));
        assert_eq!(still, channel);
        let left = plan(-0.5, -0.3, AxisEntry::X, vec![StepEntry::Transfer]);
        assert_eq!(at_centre(&channel, &left, Some(&angle)), channel);
    }
}
