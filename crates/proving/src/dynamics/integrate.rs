//! Fixed-step Runge–Kutta of fourth order with phase changes located to 1e-12 s.

use super::crush::Series;
use super::phase::{Laws, Phase, Rolling, Touch};
use super::state::{Masses, State};
use super::truth::{Node, Truth};
use crate::{ProvingError, Scene};

/// Step, s; the closed-form case then agrees to all printed digits.
const STEP_S: f64 = 5e-5;
/// Width at which a phase change counts as located, s.
const EVENT_S: f64 = 1e-12;
/// Phase changes allowed before the motion counts as chatter.
const MOST_CHANGES: usize = 1000;

/// Moves car and truck from contact to the end of the film.
///
/// # Errors
/// [`ProvingError::Scene`] for a scene out of range; [`ProvingError::Restless`] when the phases chatter.
pub fn simulate(scene: &Scene) -> Result<Truth, ProvingError> {
    scene.check()?;
    let laws = Laws { masses: Masses::new(scene), series: Series::new(&scene.cushion, scene.front.as_ref()) };
    // The last frame's exposure and the sensors' records reach a little beyond the film.
    let nodes = run(&laws, start(scene), scene.after_s + 0.05)?;
    Ok(Truth::new(scene, nodes))
}

/// The state at contact.
fn start(scene: &Scene) -> State {
    let heading_deg = scene.car.aside.as_ref().map_or(0.0, |aside| aside.heading_deg);
    let (sin, cos) = heading_deg.to_radians().sin_cos();
    let speed_m_s = scene.car.speed_km_h / 3.6;
    let mut state = State::default();
    (state.0[1], state.0[11]) = (speed_m_s * cos, speed_m_s * sin);
    state
}

fn run(laws: &Laws, start: State, end_s: f64) -> Result<Vec<Node>, ProvingError> {
    let mut state = start;
    let mut phase = Phase { touch: Touch::Loading, rolling: Rolling::Stands };
    let mut nodes = Vec::new();
    let (mut t_s, mut n_changes) = (0.0, 0);
    loop {
        while let Some((next, border)) = laws.next(&phase, &state) {
            nodes.push(node(laws, &phase, t_s, &state));
            (phase, state) = (next, border);
            n_changes += 1;
            if n_changes > MOST_CHANGES {
                return Err(ProvingError::Restless { limit: MOST_CHANGES, t_s });
            }
        }
        nodes.push(node(laws, &phase, t_s, &state));
        if t_s >= end_s {
            return Ok(nodes);
        }
        let step_s = step_inside(laws, &phase, &state, STEP_S.min(end_s - t_s).max(EVENT_S));
        state = stepped(laws, &phase, &state, step_s);
        t_s += step_s;
    }
}

/// The whole step, or the shortest that ends the phase.
fn step_inside(laws: &Laws, phase: &Phase, state: &State, step_s: f64) -> f64 {
    let over = |step: f64| laws.is_over(phase, &stepped(laws, phase, state, step));
    if !over(step_s) {
        return step_s;
    }
    let (mut inside, mut outside) = (0.0, step_s);
    while outside - inside > EVENT_S {
        let middle = 0.5 * (inside + outside);
        if over(middle) {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    outside
}

fn stepped(laws: &Laws, phase: &Phase, state: &State, step_s: f64) -> State {
    let k1 = laws.rate(phase, state);
    let k2 = laws.rate(phase, &state.moved(&k1, 0.5 * step_s));
    let k3 = laws.rate(phase, &state.moved(&k2, 0.5 * step_s));
    let k4 = laws.rate(phase, &state.moved(&k3, step_s));
    let sixth = step_s / 6.0;
    state.moved(&k1, sixth).moved(&k2, 2.0 * sixth).moved(&k3, 2.0 * sixth).moved(&k4, sixth)
}

fn node(laws: &Laws, phase: &Phase, t_s: f64, state: &State) -> Node {
    let squeeze = laws.squeeze(phase, state);
    Node {
        t_s,
        state: *state,
        rate: laws.rate(phase, state),
        squeeze,
        squeezing: matches!(phase.touch, Touch::Loading | Touch::Springing { .. }),
        apart: matches!(phase.touch, Touch::Apart { .. }),
    }
}
