//! Budgets by propagation against Monte Carlo over all doubtful inputs at once (JCGM 101:2008, clause 8).

use super::*;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::Plan;
use crate::run::{camera_inputs, film, steadying};
use crate::watch::Unwatched;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::path::Path;

/// The standard deviation of so many normal draws is good to 1.6 %.
const N_DRAWS: u64 = 2000;

/// Findings with every doubtful input drawn.
fn drawn(inputs: &Inputs<'_>, stated: &CameraMotion, doubts: &[Doubt], seed: u64) -> Vec<Raw> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut state = Inputs { kept: Some(&stated.kept), ..inputs.clone() };
    for doubt in doubts {
        state = state.moved(doubt, StandardNormal.sample(&mut random));
    }
    findings(&state, &evaluate(&state).unwrap())
}

/// Standard deviation about the mean.
fn spread(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

#[test]
fn budgets_of_the_sample_agree_with_monte_carlo() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-frames/hatchback");
    let dossier = Dossier::read(&folder.join("dossier.toml")).unwrap();
    let (mut plan, options) = (Plan::of(&dossier).unwrap(), RunOptions::default());
    plan.cameras.truncate(1);
    let films = [film::film(&dossier, &plan.cameras[0], &options, &Unwatched).unwrap()];
    let steadied = [steadying::steadied(&plan, &plan.cameras[0], &films[0])];
    let (inputs, _) = camera_inputs(&dossier, &plan, &films, &steadied, &options);
    let stated = budgeted(&inputs[0]).unwrap();
    let doubts = inputs[0].doubts(&stated.motion.contact);
    let draws: Vec<Vec<Raw>> =
        (0..N_DRAWS).into_par_iter().map(|seed| drawn(&inputs[0], &stated.motion, &doubts, seed)).collect();
    let mut off = Vec::new();
    for raw in &stated.raws {
        let Ok(made) = &raw.made else { continue };
        // What does not come by way of the film, such as a mass, is not drawn.
        let raw = &Raw { also: Vec::new(), ..raw.clone() };
        let propagated =
            stated.budget(raw, made.value, 0.0).iter().map(|line| line.u.powi(2)).sum::<f64>().sqrt();
        let of_draw = |draw: &Vec<Raw>| {
            draw.iter().find(|other| other.is(raw))?.made.as_ref().ok().map(|made| made.value)
        };
        let values: Vec<f64> = draws.iter().filter_map(of_draw).collect();
        let by_draws = spread(&values);
        let u = |sd: f64| sd.hypot(made.marks_u);
        let ratio = u(propagated) / u(by_draws);
        println!(
            "{} {}: {propagated:.4e} {}, Monte Carlo {by_draws:.4e}; with marks {:.4e}, ratio {ratio:.3}",
            raw.name,
            raw.subject,
            raw.unit,
            u(by_draws)
        );
        if (ratio - 1.0).abs() >= 0.05 || values.len() as u64 != N_DRAWS {
            off.push(format!("{} {}: {ratio}, {} draws", raw.name, raw.subject, values.len()));
        }
    }
    assert!(off.is_empty(), "{off:?}");
}
