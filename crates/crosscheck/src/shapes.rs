//! Faults that change the record's shape, as columns of the least-squares problem.

use crate::integrals::Integrals;

/// A fault whose size is fitted beside gain, offset and lag.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Shape {
    /// The zero moves at an instant of the film. The second column is the jump in speed that an error of the instant makes; its
    /// standard deviation is `jump_u_m_s`.
    Step { from_s: f64, jump_u_m_s: f64 },
    /// Between the ends of each run of the record, s, the reading is not what it should be: a polynomial of this degree is missing.
    Runs { runs_s: Vec<[f64; 2]>, degree: usize },
    /// A mount that swings: what it senses differs from what it reads by reading'' / ω². The part with reading' is a lag.
    Resonance,
}

impl Shape {
    /// Columns in displacement at the frames, m per unit.
    pub(crate) fn columns_m(
        &self,
        integrals: &Integrals<'_>,
        frame_times_s: &[f64],
        lag_s: f64,
    ) -> Vec<Vec<f64>> {
        match self {
            Self::Step { from_s, .. } => {
                let step = integrals.step_m(*from_s).into_iter().map(|m| -m).collect();
                let jump = frame_times_s.iter().map(|time_s| (time_s - from_s).max(0.0)).collect();
                vec![step, jump]
            }
            Self::Runs { runs_s, degree } => runs_s
                .iter()
                .flat_map(|run_s| (0..=*degree).map(move |power| (*run_s, power)))
                .map(|(run_s, power)| integrals.of_record_m(lag_s, |at_s| legendre(run_s, power, at_s)))
                .collect(),
            Self::Resonance => vec![integrals.readings(lag_s)],
        }
    }

    /// What is known of each column's size beforehand: value and standard uncertainty.
    pub(crate) fn known(&self) -> Vec<Option<(f64, f64)>> {
        match self {
            Self::Step { jump_u_m_s, .. } => vec![None, Some((0.0, *jump_u_m_s))],
            Self::Runs { runs_s, degree } => vec![None; runs_s.len() * (degree + 1)],
            Self::Resonance => vec![None],
        }
    }

    /// Terms for the criterion: an instant that is looked for counts as one.
    pub(crate) fn n_terms(&self) -> usize {
        match self {
            Self::Step { .. } | Self::Resonance => 2,
            Self::Runs { runs_s, degree } => runs_s.len() * (degree + 1),
        }
    }
}

/// Legendre polynomial of a power up to 2 over a run; 0 outside it. Its mean over the run is 0 but for power 0.
fn legendre([from_s, to_s]: [f64; 2], power: usize, at_s: f64) -> f64 {
    if at_s < from_s || at_s > to_s {
        return 0.0;
    }
    let place = (2.0 * at_s - from_s - to_s) / (to_s - from_s);
    match power {
        0 => 1.0,
        1 => place,
        _ => 1.5 * place * place - 0.5,
    }
}
