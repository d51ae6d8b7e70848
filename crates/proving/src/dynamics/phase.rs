//! Phases of the impact and the guards that end them.

use super::crush::{Series, Squeeze};
use super::state::{Masses, State};

/// How car and truck touch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Touch {
    /// Shortening grows beyond anything before.
    Loading,
    /// Giving back, or pressed again short of the deepest squeeze.
    Springing {
        /// The deepest squeeze.
        peak: Squeeze,
    },
    /// Nothing is given back: one speed.
    Locked {
        /// The squeeze that stays.
        peak: Squeeze,
    },
    /// Parted.
    Apart {
        /// The deepest squeeze.
        peak: Squeeze,
        /// What stayed of it.
        free: Squeeze,
    },
}

/// How the truck's braked wheels slide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Rolling {
    /// They hold.
    Stands,
    /// Away from the car.
    Ahead,
    /// Back towards it.
    Back,
}

impl Rolling {
    /// Direction of the motion that their drag is against.
    pub(super) fn sign(self) -> f64 {
        match self {
            Self::Stands => 0.0,
            Self::Ahead => 1.0,
            Self::Back => -1.0,
        }
    }
}

/// The phase of the motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Phase {
    pub touch: Touch,
    pub rolling: Rolling,
}

/// The laws of the scene.
#[derive(Debug, Clone)]
pub(super) struct Laws {
    pub masses: Masses,
    pub series: Series,
}

impl Laws {
    /// Force and shortening in this phase.
    pub(super) fn squeeze(&self, phase: &Phase, state: &State) -> Squeeze {
        match phase.touch {
            Touch::Loading => self.series.loading(state.closing()),
            Touch::Springing { peak } => self.series.unloading(&peak, state.closing()).unwrap_or(peak),
            Touch::Locked { peak } => {
                let rate = self.rate(phase, state);
                Squeeze { force_n: -self.masses.car_kg * rate.0[1], front_slope: 0.0, ..peak }
            }
            Touch::Apart { free, .. } => free,
        }
    }

    /// Rate of change of the state in this phase.
    pub(super) fn rate(&self, phase: &Phase, state: &State) -> State {
        let locked = matches!(phase.touch, Touch::Locked { .. });
        let force_n = if locked { 0.0 } else { self.squeeze(phase, state).force_n };
        self.masses.rate(state, force_n, phase.rolling, locked)
    }

    /// Whether the phase is over at this state.
    pub(super) fn is_over(&self, phase: &Phase, state: &State) -> bool {
        self.next(phase, state).is_some()
    }

    /// The phase that follows when this one is over, with the state put exactly on the border.
    pub(super) fn next(&self, phase: &Phase, state: &State) -> Option<(Phase, State)> {
        if let Some(touch) = self.next_touch(phase, state) {
            let joins = matches!(touch, Touch::Locked { .. });
            let state = if joins { state.joined(&self.masses) } else { *state };
            return Some((Phase { touch, ..*phase }, state));
        }
        let (rolling, state) = self.next_rolling(phase, state)?;
        Some((Phase { rolling, ..*phase }, state))
    }

    /// The truck stops where it has lost its speed, and starts where it is pushed or pulled harder than its wheels hold.
    fn next_rolling(&self, phase: &Phase, state: &State) -> Option<(Rolling, State)> {
        let locked = matches!(phase.touch, Touch::Locked { .. });
        let push_n =
            if locked { 0.0 } else { self.squeeze(phase, state).force_n } - self.masses.tether_n(state);
        let pushed = match push_n {
            push_n if push_n > self.masses.truck_drag_n => Rolling::Ahead,
            push_n if push_n < -self.masses.truck_drag_n => Rolling::Back,
            _ => Rolling::Stands,
        };
        if phase.rolling == Rolling::Stands {
            return (pushed != Rolling::Stands).then_some((pushed, *state));
        }
        let stops = phase.rolling.sign() * state.truck_v() < 0.0 && pushed != phase.rolling;
        let stopped = if locked { stopped_both(state) } else { state.truck_stopped() };
        stops.then_some((pushed, stopped))
    }

    fn next_touch(&self, phase: &Phase, state: &State) -> Option<Touch> {
        let closing = state.closing();
        match phase.touch {
            Touch::Loading => (state.closing_rate() < 0.0).then(|| {
                let peak = self.series.loading(closing);
                match self.series.free(&peak) {
                    Some(_) => Touch::Springing { peak },
                    None => Touch::Locked { peak },
                }
            }),
            Touch::Springing { peak } => {
                if closing > peak.total_m {
                    return Some(Touch::Loading);
                }
                let squeeze = self.series.unloading(&peak, closing)?;
                let free = self.series.free(&peak)?;
                (squeeze.force_n < 0.0).then_some(Touch::Apart { peak, free })
            }
            Touch::Locked { .. } => None,
            Touch::Apart { peak, free } => (closing > free.total_m).then_some(Touch::Springing { peak }),
        }
    }
}

fn stopped_both(state: &State) -> State {
    let mut stopped = state.truck_stopped();
    stopped.0[1] = 0.0;
    stopped
}
