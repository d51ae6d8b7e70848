//! Made-up cameras whose lens is known: how often a term's 95 % interval holds the truth.

use anyhow::{Context, Result};
use filmgauge_geometry::{
    FlatGrid, GridView, LENS_TERMS, Lens, LensFitOptions, LensTerms, TermChoice, fit_lens,
};
use filmgauge_quantities::{COVERAGE_95, Length, PixelPoint};
use nalgebra::{Rotation3, Vector3};
use rand_distr::{Distribution, Normal, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rayon::prelude::*;

const SIZE_PX: (u32, u32) = (1280, 800);
const N_VIEWS: usize = 12;
/// Corners keep this far from the picture's edge, px.
const MARGIN_PX: f64 = 5.0;

/// One kind of rehearsal.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// What it is called in the table.
    pub name: &'static str,
    lens: Lens,
    /// Noise of a corner along each axis, px.
    pub noise_px: f64,
    /// How the terms come about.
    pub terms: TermChoice,
}

/// All cases of the table.
#[must_use]
pub fn cases() -> [Case; 4] {
    let plain = Lens { fy_px: 1396.0, k1: -0.21, k2: 0.08, ..Lens::pinhole(1400.0, 652.0, 391.0) };
    let full = Lens { k3: -0.05, p1: 8e-4, p2: -5e-4, ..plain };
    let all = TermChoice::Fixed(LensTerms::new(3, true));
    let case = |name, lens, noise_px, terms| Case { name, lens, noise_px, terms };
    [
        case("k1 k2, chosen, 0.05 px", plain, 0.05, TermChoice::ByEvidence),
        case("k1 k2, chosen, 0.3 px", plain, 0.3, TermChoice::ByEvidence),
        case("all terms, given, 0.05 px", full, 0.05, all),
        case("all terms, given, 0.3 px", full, 0.3, all),
    ]
}

/// What many rehearsals of a case say.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// Rehearsals.
    pub n: u64,
    /// Rehearsals in which each term was free.
    pub free: [u32; 9],
    /// Those in which its 95 % interval held the truth, given the choice of terms.
    pub inside_given: [u32; 9],
    /// The same with the doubt about the choice, as in the lens file.
    pub inside: [u32; 9],
    /// Mean of the stated noise over the true one.
    pub noise_ratio: f64,
}

/// Runs `n` rehearsals of a case.
///
/// # Errors
/// When one of them gives no lens.
pub fn coverage(case: &Case, n: u64) -> Result<Coverage> {
    let one = |seed: u64| -> Result<([[bool; 9]; 3], f64)> {
        let views = views(case, seed);
        let options = LensFitOptions { terms: case.terms, ..LensFitOptions::default() };
        let fit = fit_lens(&grid(), &views, SIZE_PX, &options)
            .with_context(|| format!("{}, seed {seed}", case.name))?;
        let off = |term: usize| (terms(&fit.lens)[term] - terms(&case.lens)[term]).abs();
        let inside = |u: [f64; 9]| std::array::from_fn(|term| off(term) <= COVERAGE_95 * u[term]);
        Ok((
            [fit.terms.free(), inside(fit.u()), inside(fit.u_with_choice())],
            fit.corner_sd_px / case.noise_px,
        ))
    };
    let all = (0..n).into_par_iter().map(one).collect::<Result<Vec<_>>>()?;
    let sum = |of: usize| -> [u32; 9] {
        std::array::from_fn(|term| all.iter().map(|(counts, _)| u32::from(counts[of][term])).sum())
    };
    let noise_ratio = all.iter().map(|(_, ratio)| ratio).sum::<f64>() / n as f64;
    Ok(Coverage { n, free: sum(0), inside_given: sum(1), inside: sum(2), noise_ratio })
}

fn terms(lens: &Lens) -> [f64; LENS_TERMS.len()] {
    [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2]
}

fn grid() -> FlatGrid {
    FlatGrid { columns: 9, rows: 6, pitch: Length::from_mm(30.0) }
}

/// Views of boards that stand at random, wholly in the picture.
fn views(case: &Case, seed: u64) -> Vec<GridView> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let noise = Normal::new(0.0, case.noise_px).unwrap_or_else(|_| unreachable!("a case's noise is above 0"));
    let unit = Uniform::new(-1.0, 1.0).unwrap_or_else(|_| unreachable!("-1 is below 1"));
    let mut views = Vec::new();
    while views.len() < N_VIEWS {
        let mut draw = || unit.sample(&mut random);
        let turn = Rotation3::new(Vector3::new(0.7 * draw(), 0.7 * draw(), 0.5 * draw()));
        let middle = Vector3::new(0.12 * draw(), 0.07 * draw(), 0.55 + 0.15 * draw());
        let Some(places) = pictured(&case.lens, &turn, &middle) else { continue };
        let mut seen = |at: &PixelPoint| at.moved(noise.sample(&mut random), noise.sample(&mut random));
        let corners = places.iter().map(&mut seen).collect();
        views.push(GridView { name: format!("view {}", views.len()), corners });
    }
    views
}

/// Exact corners of a board; `None` where one is not in the picture.
fn pictured(lens: &Lens, turn: &Rotation3<f64>, middle: &Vector3<f64>) -> Option<Vec<PixelPoint>> {
    let grid = grid();
    let pitch_m = grid.pitch.as_m();
    let half = Vector3::new((grid.columns - 1) as f64, (grid.rows - 1) as f64, 0.0) * (0.5 * pitch_m);
    let corner = |at: [f64; 2]| {
        let p = turn * (Vector3::new(at[0], at[1], 0.0) - half) + middle;
        let ideal = PixelPoint::new(lens.fx_px * p.x / p.z + lens.cx_px, lens.fy_px * p.y / p.z + lens.cy_px);
        let stored = lens.distort(ideal);
        let inside = |at: f64, length: u32| (MARGIN_PX..f64::from(length) - MARGIN_PX).contains(&at);
        (lens.holds(ideal) && inside(stored.x, SIZE_PX.0) && inside(stored.y, SIZE_PX.1)).then_some(stored)
    };
    grid.corners_m().into_iter().map(corner).collect()
}
