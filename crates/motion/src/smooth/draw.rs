//! Curves drawn from what is known of the true one: from the last frame back, each state given the next.

use super::{Blend, Smoothed};
use crate::matrix::applied;
use crate::spline::{Estimate, Node};

impl Smoothed {
    /// Value and derivatives at each frame of one curve drawn from what is known of the true one; `normal` gives standard
    /// normal numbers. About each change one of its models is drawn first.
    pub fn drawn(&self, mut normal: impl FnMut() -> f64) -> Vec<[f64; 4]> {
        let picked: Vec<usize> = self.blends.iter().map(|blend| pick(blend, normal())).collect();
        let n = self.times_s.len();
        let mut drawn = vec![[0.0; 4]; n];
        let mut next: Option<[f64; 4]> = None;
        for i in (0..n).rev() {
            let (nodes, states, own, following) = self.model_of(i, &picked);
            // From the next frame's node back over the kinks between, if there is a next frame.
            let mut state = next;
            for k in (own..following.max(own + 1)).rev() {
                let ahead = state.map(|state| (state, &states[k + 1].state));
                state = Some(self.step_back(&states[k], ahead, &mut normal));
            }
            next = state;
            if let Some(state) = state {
                drawn[i] = self.scale.restored(nodes[own].at, state, &[[0.0; 4]; 4], 1.0).0;
            }
        }
        drawn
    }

    /// Nodes and states of the model to which a frame belongs, the frame's node and the next frame's; the same twice at
    /// the last frame.
    fn model_of(&self, frame: usize, picked: &[usize]) -> (&[Node], &[Estimate], usize, usize) {
        let at = self.laid.nodes[self.laid.of_frame[frame]].at;
        for (blend, &model) in self.blends.iter().zip(picked) {
            let model = &blend.models[model];
            let within = (blend.from..=blend.to).contains(&at) && frame >= blend.first;
            if within && frame + 1 - blend.first < model.laid.of_frame.len() {
                let of_frame = &model.laid.of_frame[frame - blend.first..];
                return (&model.laid.nodes, &model.states, of_frame[0], of_frame[1]);
            }
        }
        let own = self.laid.of_frame[frame];
        let following = self.laid.of_frame.get(frame + 1).copied().unwrap_or(own);
        (&self.laid.nodes, &self.states_of_nodes, own, following)
    }

    /// A state given the next one, which lies some way off its estimate.
    fn step_back(
        &self,
        own: &Estimate,
        next: Option<([f64; 4], &[f64; 4])>,
        normal: &mut impl FnMut() -> f64,
    ) -> [f64; 4] {
        let chance = applied(&own.root, &[normal(), normal(), normal(), normal()]);
        let carried = next.map_or([0.0; 4], |(drawn, expected)| {
            applied(&own.gain, &std::array::from_fn(|i| drawn[i] - expected[i]))
        });
        std::array::from_fn(|i| own.state[i] + carried[i] + self.widened * chance[i])
    }
}

/// A model by its weight. A normal number is turned into an even one by its sign and size, which is as good as any.
fn pick(blend: &Blend, normal: f64) -> usize {
    let mut even = uniform(normal);
    for (place, model) in blend.models.iter().enumerate() {
        even -= model.weight;
        if even < 0.0 {
            return place;
        }
    }
    0
}

/// Distribution function of the normal number: logistic approximation (Bowling et al. 2009, J. Ind. Eng. Manag. 2:114),
/// within 2e-4.
fn uniform(normal: f64) -> f64 {
    1.0 / (1.0 + (-0.070_56 * normal.powi(3) - 1.5976 * normal).exp())
}
