//! Whether the momentum of two bodies closes, from film and masses alone, outer forces allowed.
//!
//! The forces between the bodies cancel in the sum Q = m1 x1 + m2 x2, so that before contact Q is a straight line and
//! afterwards the same line bent by the outer forces alone (a braked truck's drag). What the striking body gave is known
//! at every instant, r = m1 (its run-up's line - x1); a wrong scale or mass of either body leaves a share of just that
//! path over. So Q0 + P t + F s(t) + k r(t) is fitted to the places themselves, over run-up and contact together, and k,
//! the relative excess of what was received over what was given, must be zero.
//!
//! Drag is a constant force from the instant at which the struck body slides; before that the ground takes all that the
//! striking body gives. That instant is not known: the fits for a row of them are averaged by their likelihood, and their
//! disagreement is part of the uncertainty (Hoeting et al. 1999, Statist. Sci. 14:382).

use crate::least_squares::{Fitted, fitted};
use crate::samples::{self, Sample};
use crate::{Figure, MotionFailure};

/// Instants of sliding that are tried, s after contact.
const SLIDES_S: [f64; 18] = [
    0.0, 0.001, 0.002, 0.003, 0.005, 0.007, 0.01, 0.014, 0.02, 0.024, 0.028, 0.033, 0.039, 0.046, 0.055,
    0.075, 0.1, 0.14,
];
/// Frames to either side of an instant that tell what was given by then.
const NEAR_FRAMES: usize = 6;
/// Fewest frames on either side of contact.
const FEWEST_FRAMES: usize = 10;

/// One body of the pair.
#[derive(Debug, Clone, Copy)]
pub struct Mover<'a> {
    /// Place of its c.g. along the path, one entry for each time; m, m².
    pub places: &'a [Sample],
    /// Mass, kg; greater than 0.
    pub mass_kg: f64,
}

/// Windows of [`momentum_balance`], s from time zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BalanceWindow {
    /// Start of the run-up used.
    pub from_s: f64,
    /// First touch.
    pub contact_s: f64,
    /// End of the stretch used: while the drag is still one constant force.
    pub to_s: f64,
    /// By when the struck body slides for certain.
    pub sliding_s: f64,
    /// Drag of the striking body's own wheels after contact, against its motion, N; 0 for none.
    pub rolling_n: f64,
    /// Whether an outer force may act after contact; without it the closure error is told more sharply.
    pub with_drag: bool,
}

/// Momentum of the pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MomentumBalance {
    /// Momentum before contact, kg m/s.
    pub before: Figure,
    /// What the struck body and the ground received over what the striking body gave, less 1: the closure error. A
    /// relative error of the striking body's scale or mass adds to it with a minus, one of the struck body's with a plus.
    /// Its u is that of the marks alone.
    pub excess: Figure,
    /// What the striking body gave up to the end of the stretch, kg m/s.
    pub given: f64,
    /// Outer force after contact, N; negative for drag. `None` where it was held at zero.
    pub force: Option<Figure>,
    /// How long after contact the struck body slides, s; 0 without drag.
    pub slide_s: f64,
    /// Residual sum of squares over the variances, of the best fit.
    pub chi2: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// Frames used.
    pub n_frames: usize,
}

/// Fits the balance to the frames in which both bodies have a place.
///
/// # Errors
/// [`MotionFailure`] for a mass out of range, faulty curves, and too few frames before or after contact.
pub fn momentum_balance(
    times_s: &[f64],
    striking: &Mover<'_>,
    struck: &Mover<'_>,
    window: &BalanceWindow,
) -> Result<MomentumBalance, MotionFailure> {
    for mover in [striking, struck] {
        samples::check(times_s, mover.places)?;
        if !(mover.mass_kg.is_finite() && mover.mass_kg > 0.0) {
            let rule = "it must be greater than 0";
            return Err(MotionFailure::Setting { setting: "mass_kg", value: mover.mass_kg, rule });
        }
    }
    let mut frames = frames(times_s, striking, struck, window);
    take_rolling_out(&mut frames, window.rolling_n, striking.mass_kg);
    let before = frames.iter().filter(|frame| frame.after_s < 0.0).count();
    let found = before.min(frames.len() - before);
    if found < FEWEST_FRAMES {
        return Err(MotionFailure::TooFewMarks { what: "momentum balance", found, needed: FEWEST_FRAMES });
    }
    let why = "the frames do not determine it; use a longer stretch";
    let degenerate = MotionFailure::Degenerate { what: "momentum balance", why };
    let Some([at_contact_m, speed_m_s]) = run_up(&frames) else { return Err(degenerate) };
    // What the striking body gave by each frame, as a path: kg m.
    let path = |frame: &Frame| {
        let line_m = at_contact_m + speed_m_s * frame.after_s;
        if frame.after_s > 0.0 { striking.mass_kg * (line_m - frame.striking_m) } else { 0.0 }
    };
    let given: Vec<f64> = frames.iter().map(path).collect();
    let latest_s = if window.with_drag { window.sliding_s - window.contact_s } else { 0.0 };
    let slides = SLIDES_S.iter().filter(|&&slide_s| slide_s <= latest_s.max(0.0));
    let fits: Vec<Parts> =
        slides.filter_map(|&slide_s| parts(&frames, &given, slide_s, window.with_drag)).collect();
    averaged(&fits, (&frames, &given), window.with_drag).ok_or(degenerate)
}

/// One frame: time after contact, place of the striking body, Q, variance of Q.
struct Frame {
    after_s: f64,
    striking_m: f64,
    sum: f64,
    variance: f64,
}

fn frames(times_s: &[f64], striking: &Mover<'_>, struck: &Mover<'_>, window: &BalanceWindow) -> Vec<Frame> {
    let places = striking.places.iter().zip(struck.places);
    let both = times_s.iter().zip(places).filter_map(|(&time_s, (one, other))| {
        let ((x1, u1), (x2, u2)) = ((*one)?, (*other)?);
        let (m1, m2) = (striking.mass_kg, struck.mass_kg);
        (window.from_s..=window.to_s).contains(&time_s).then_some(Frame {
            after_s: time_s - window.contact_s,
            striking_m: x1,
            sum: m1 * x1 + m2 * x2,
            variance: m1 * m1 * u1 + m2 * m2 * u2,
        })
    });
    both.collect()
}

/// Puts the striking body where it would be without its own rolling drag, which neither it gave nor the struck one received.
fn take_rolling_out(frames: &mut [Frame], rolling_n: f64, mass_kg: f64) {
    let places_m: Vec<f64> = frames.iter().map(|frame| frame.striking_m).collect();
    let last = frames.len().saturating_sub(1);
    let (mut impulse, mut path) = (0.0, 0.0);
    for at in 1..frames.len() {
        if frames[at].after_s > 0.0 {
            let onward_m = places_m[(at + NEAR_FRAMES).min(last)] - places_m[at.saturating_sub(NEAR_FRAMES)];
            let step_s = frames[at].after_s - frames[at - 1].after_s.max(0.0);
            let before = impulse;
            impulse += rolling_n * onward_m.signum() * step_s;
            path += f64::midpoint(before, impulse) * step_s;
            frames[at].sum += path;
            frames[at].striking_m += path / mass_kg;
        }
    }
}

/// Place at contact and speed of the striking body's run-up.
fn run_up(frames: &[Frame]) -> Option<[f64; 2]> {
    let before = frames.iter().filter(|frame| frame.after_s < 0.0);
    let line = fitted::<2, 3>(before.map(|frame| ([1.0, frame.after_s], frame.striking_m, 1.0)))?;
    Some(line.value)
}

/// The fit for one instant of sliding: Q at contact, momentum, excess, force.
struct Parts {
    slide_s: f64,
    value: [f64; 4],
    cov: [[f64; 4]; 4],
    chi2: f64,
    dof: usize,
}

fn parts(frames: &[Frame], given: &[f64], slide_s: f64, with_drag: bool) -> Option<Parts> {
    let rows = frames.iter().zip(given);
    let slopes = |frame: &Frame, given: f64| [1.0, frame.after_s, given];
    if with_drag {
        let (taken, rate) = if slide_s > 0.0 { given_by(frames, given, slide_s)? } else { (0.0, 0.0) };
        let rows = rows.map(|(frame, &given)| {
            let slid_s = (frame.after_s - slide_s).max(0.0);
            // What the ground took while the struck body stood: no wrong scale leaves a trace in it.
            let stood = match frame.after_s {
                after_s if after_s <= 0.0 => 0.0,
                after_s if after_s <= slide_s => given,
                _ => taken + rate * slid_s,
            };
            ([1.0, frame.after_s, given - stood, 0.5 * slid_s * slid_s], frame.sum + stood, frame.variance)
        });
        let Fitted { value, cov, chi2, n_rows } = fitted::<4, 5>(rows)?;
        return Some(Parts { slide_s, value, cov, chi2, dof: n_rows - 4 });
    }
    let plain =
        fitted::<3, 4>(rows.map(|(frame, &given)| (slopes(frame, given), frame.sum, frame.variance)))?;
    let at = |i: usize, j: usize| if i < 3 && j < 3 { plain.cov[i][j] } else { 0.0 };
    Some(Parts {
        slide_s,
        value: [plain.value[0], plain.value[1], plain.value[2], 0.0],
        cov: std::array::from_fn(|i| std::array::from_fn(|j| at(i, j))),
        chi2: plain.chi2,
        dof: plain.dof(),
    })
}

/// What was given by an instant, as a path and its rate: a parabola through the frames about it.
fn given_by(frames: &[Frame], given: &[f64], at_s: f64) -> Option<(f64, f64)> {
    let middle = frames.partition_point(|frame| frame.after_s < at_s);
    let near = middle.saturating_sub(NEAR_FRAMES)..(middle + NEAR_FRAMES).min(frames.len());
    let rows = near.filter(|&k| frames[k].after_s >= 0.0).map(|k| {
        let t = frames[k].after_s - at_s;
        ([1.0, t, t * t], given[k], 1.0)
    });
    let fit = fitted::<3, 4>(rows)?;
    Some((fit.value[0], fit.value[1]))
}

#[expect(clippy::cast_precision_loss, reason = "counts of frames")]
fn averaged(fits: &[Parts], (frames, given): (&[Frame], &[f64]), with_drag: bool) -> Option<MomentumBalance> {
    let best = fits.iter().min_by(|a, b| a.chi2.total_cmp(&b.chi2))?;
    // Residuals that chance explains do not widen: 2.33 standard deviations of chi-square.
    let scale = best.chi2 / best.dof.max(1) as f64;
    let noise = if scale > 1.0 + 2.33 * (2.0 / best.dof.max(1) as f64).sqrt() { scale } else { 1.0 };
    let weight = |fit: &Parts| (-0.5 * (fit.chi2 - best.chi2) / noise).exp();
    let total: f64 = fits.iter().map(weight).sum();
    let mean = |of: &dyn Fn(&Parts) -> f64| fits.iter().map(|fit| weight(fit) * of(fit)).sum::<f64>() / total;
    let figure = |k: usize| {
        let value = mean(&|fit| fit.value[k]);
        let variance = mean(&|fit| fit.cov[k][k] * noise + (fit.value[k] - value).powi(2));
        Figure { value, u: variance.sqrt() }
    };
    Some(MomentumBalance {
        before: figure(1),
        excess: figure(2),
        given: last_slope(frames, given)?,
        force: with_drag.then(|| figure(3)),
        slide_s: if with_drag { mean(&|fit| fit.slide_s) } else { 0.0 },
        chi2: best.chi2,
        dof: best.dof,
        n_frames: frames.len(),
    })
}

/// Slope of a path over its last frames.
fn last_slope(frames: &[Frame], path: &[f64]) -> Option<f64> {
    let from = frames.len().saturating_sub(FEWEST_FRAMES);
    let rows = frames[from..].iter().zip(&path[from..]);
    Some(fitted::<2, 3>(rows.map(|(frame, &path)| ([1.0, frame.after_s], path, 1.0)))?.value[1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_distr::{Distribution, Normal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;

    const U_M: f64 = 3e-4;

    /// Closed form: constant force on a 2000 kg car at 100 km/h, truck of 9000 kg with a ground drag of 0.2 of its weight;
    /// after the common speed both roll on. Places at an instant.
    fn places(t: f64) -> [f64; 2] {
        let (m1, m2, v0) = (2000.0, 9000.0, 27.777_778);
        let drag = 0.2 * m2 * 9.806_65;
        let (a1, a2) = (200e3 / m1, (200e3 - drag) / m2);
        let common = v0 / (a1 + a2);
        if t <= 0.0 {
            return [v0 * t, 0.0];
        }
        let s = t.min(common);
        let (x1, x2) = (v0 * s - 0.5 * a1 * s * s, 0.5 * a2 * s * s);
        let (v, rest) = (a2 * common, t - s);
        let roll = v * rest - 0.5 * drag / (m1 + m2) * rest * rest;
        [x1 + roll, x2 + roll]
    }

    fn balance(seed: u64, scale: [f64; 2], with_drag: bool) -> MomentumBalance {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, U_M).unwrap();
        let times_s: Vec<f64> = (0..500).map(|i| -0.0996 + f64::from(i) * 1e-3).collect();
        let mut curve = |body: usize| -> Vec<Sample> {
            let mark =
                |&t: &f64| Some((scale[body] * places(t)[body] + noise.sample(&mut random), U_M * U_M));
            times_s.iter().map(mark).collect()
        };
        let (car, truck) = (curve(0), curve(1));
        let window = BalanceWindow {
            from_s: -1.0,
            contact_s: 0.0,
            to_s: 1.0,
            sliding_s: 0.005,
            rolling_n: 0.0,
            with_drag,
        };
        let [car, truck] =
            [(&car, 2000.0), (&truck, 9000.0)].map(|(places, mass_kg)| Mover { places, mass_kg });
        momentum_balance(&times_s, &car, &truck, &window).unwrap()
    }

    #[test]
    fn a_dragging_truck_closes_and_its_drag_is_found() {
        let (mut inside, mut drag_inside) = (0, 0);
        for seed in 0..200 {
            let found = balance(seed, [1.0, 1.0], true);
            inside += u32::from(found.excess.value.abs() <= 1.96 * found.excess.u);
            let force = found.force.unwrap();
            drag_inside += u32::from((force.value + 17_651.97).abs() <= 1.96 * force.u);
            assert!((found.before.value - 55_555.556).abs() < 5.0 * found.before.u);
            assert!(found.excess.u < 0.01, "{found:?}");
            assert!((found.given / 55_555.556 - 0.85).abs() < 0.03, "{found:?}");
        }
        println!("excess inside 95 %: {inside} of 200; drag {drag_inside}");
        assert!((182..=200).contains(&inside) && drag_inside >= 180, "{inside} {drag_inside}");
    }

    #[test]
    fn a_wrong_scale_shows_as_just_that_excess() {
        for (scale, expected) in [([1.03, 1.0], -0.03), ([1.0, 1.03], 0.03)] {
            let found = balance(1, scale, true);
            let off = found.excess.value - expected;
            assert!(off.abs() < 0.003 && off.abs() < 4.0 * found.excess.u + 0.001, "{scale:?}: {found:?}");
            assert!(found.excess.value.abs() > 5.0 * found.excess.u);
        }
        // A drag that is not allowed for looks like lost momentum.
        let found = balance(1, [1.0, 1.0], false);
        assert!(found.excess.value < -10.0 * found.excess.u && found.force.is_none());
    }

    #[test]
    fn too_little_film_is_a_failure() {
        let times_s: Vec<f64> = (0..30).map(|i| f64::from(i) * 1e-3).collect();
        let places: Vec<Sample> = times_s.iter().map(|&t| Some((t, 1e-8))).collect();
        let mover = Mover { places: &places, mass_kg: 1000.0 };
        let window = BalanceWindow {
            from_s: 0.0,
            contact_s: 0.002,
            to_s: 1.0,
            sliding_s: 1.0,
            rolling_n: 0.0,
            with_drag: true,
        };
        assert!(momentum_balance(&times_s, &mover, &mover, &window).is_err());
        let none = Mover { mass_kg: 0.0, ..mover };
        assert!(momentum_balance(&times_s, &mover, &none, &window).is_err());
    }
}
