//! Levenberg and Marquardt's damped least squares over the radial terms and all lines; each line's two unknowns are eliminated.

use super::{PlumbLineFailure, PlumbLineFit, PlumbLineOptions, RadialChoice};
use crate::Lens;
use crate::lens_fit::field;
use filmgauge_quantities::PixelPoint;
use nalgebra::{Matrix2, Vector2};

const MOST_ROUNDS: usize = 100;
/// Correlation of neighbours above which nothing more is made of it: points would count as none.
const GREATEST_CORRELATION: f64 = 0.95;

/// A line: the points p with n · p = offset, n = (cos, sin) of the angle, about the centre of the picture.
#[derive(Debug, Clone, Copy)]
struct Line {
    angle_rad: f64,
    offset_px: f64,
}

#[derive(Debug, Clone)]
struct State {
    k: Vector2<f64>,
    lines: Vec<Line>,
}

/// One point's distance from its line in stored px, with its slopes by (k1, k2) and by (angle, offset).
struct Row {
    away: f64,
    /// Unit vector across the line, among stored px.
    across: Vector2<f64>,
    by_k: Vector2<f64>,
    by_line: Vector2<f64>,
}

struct Problem<'a> {
    edges: &'a [Vec<PixelPoint>],
    options: &'a PlumbLineOptions,
    has_k2: bool,
}

struct Settled {
    state: State,
    loss: f64,
    /// Inverse of the terms' normal equations, lines eliminated.
    unit: Matrix2<f64>,
}

pub(super) fn fitted(
    edges: &[Vec<PixelPoint>],
    options: &PlumbLineOptions,
) -> Result<PlumbLineFit, PlumbLineFailure> {
    check(edges, options)?;
    let settled = |has_k2: bool| Problem { edges, options, has_k2 }.settled();
    let n = edges.iter().map(Vec::len).sum::<usize>() as f64;
    let (has_k2, found, bic_of_k2) = match options.terms {
        RadialChoice::K1 => (false, settled(false), None),
        RadialChoice::K1K2 => (true, settled(true), None),
        RadialChoice::ByEvidence => match (settled(false), settled(true)) {
            (Some(one), Some(two)) => {
                let floor = 1e-14 * n;
                let bic = n * (two.loss.max(floor) / one.loss.max(floor)).ln() + n.ln();
                if bic < 0.0 { (true, Some(two), Some(bic)) } else { (false, Some(one), Some(bic)) }
            }
            (one, two) => (one.is_none(), one.or(two), None),
        },
    };
    let fit = report(&Problem { edges, options, has_k2 }, found.ok_or(PlumbLineFailure::NoFit)?, bic_of_k2)?;
    with_centre(edges, options, fit)
}

/// Adds what the doubt about the centre does: the terms fitted again about a centre moved along each axis.
fn with_centre(
    edges: &[Vec<PixelPoint>],
    options: &PlumbLineOptions,
    fit: PlumbLineFit,
) -> Result<PlumbLineFit, PlumbLineFailure> {
    let u = options.centre_u_px;
    let about = |dx: f64, dy: f64| {
        let moved = PlumbLineOptions { centre: options.centre.moved(dx, dy), ..options.clone() };
        let settled = Problem { edges, options: &moved, has_k2: fit.has_k2 }.settled();
        settled.map(|settled| settled.state.k).ok_or(PlumbLineFailure::NoFit)
    };
    let mut cov = [[0.0; 4]; 4];
    for (i, row) in fit.cov.iter().enumerate() {
        cov[2 + i][2..].copy_from_slice(row);
    }
    if u > 0.0 {
        for axis in 0..2 {
            let step = if axis == 0 { (u, 0.0) } else { (0.0, u) };
            let k = 0.5 * (about(step.0, step.1)? - about(-step.0, -step.1)?);
            let moves = [step.0, step.1, k.x, k.y];
            for (row, one) in cov.iter_mut().zip(moves) {
                row.iter_mut().zip(moves).for_each(|(value, other)| *value += one * other);
            }
        }
    }
    Ok(PlumbLineFit { cov_with_centre: cov, ..fit })
}

fn check(edges: &[Vec<PixelPoint>], options: &PlumbLineOptions) -> Result<(), PlumbLineFailure> {
    if edges.len() < options.fewest_edges {
        return Err(PlumbLineFailure::TooFewEdges { n: edges.len(), fewest: options.fewest_edges });
    }
    for (edge, points) in edges.iter().enumerate() {
        if points.len() < options.fewest_points {
            return Err(PlumbLineFailure::TooFewPoints {
                edge,
                n: points.len(),
                fewest: options.fewest_points,
            });
        }
        let is_finite = points.iter().all(|point| point.x.is_finite() && point.y.is_finite());
        let spread = points.iter().map(|point| point.distance(points[0])).fold(0.0, f64::max);
        if !is_finite || spread < 1.0 {
            return Err(PlumbLineFailure::NoEdge { edge });
        }
    }
    Ok(())
}

fn report(
    problem: &Problem<'_>,
    settled: Settled,
    bic_of_k2: Option<f64>,
) -> Result<PlumbLineFit, PlumbLineFailure> {
    let options = problem.options;
    let lens = problem.lens(&settled.state.k);
    let n_free = 1 + usize::from(problem.has_k2) + 2 * problem.edges.len();
    let n: usize = problem.edges.iter().map(Vec::len).sum();
    let variance = settled.loss / (n as f64 - n_free as f64).max(1.0);
    let neighbour_correlation = problem.neighbours(&settled.state).ok_or(PlumbLineFailure::NoFit)?;
    // What hangs together from point to point counts as fewer points, as for a first-order autoregressive series; a
    // correlation that chance may give is left alone.
    let beyond_chance = Some(neighbour_correlation).filter(|r| *r > 2.0 / (n as f64).sqrt());
    let r = beyond_chance.unwrap_or(0.0).min(GREATEST_CORRELATION);
    let cov = settled.unit * variance * (1.0 + r) / (1.0 - r);
    let points: Vec<PixelPoint> = problem.edges.iter().flatten().copied().collect();
    let field = field(&points, &lens, options.size_px);
    let share = field.radius_px / options.focal_px;
    let reach = Vector2::new(share.powi(3), share.powi(5)) * options.focal_px;
    let u_px = (reach.transpose() * cov * reach)[(0, 0)].sqrt();
    if u_px.is_nan() || u_px > options.greatest_u_px {
        return Err(PlumbLineFailure::Undetermined { u_px });
    }
    let squares = |state: &State| -> Option<Vec<f64>> {
        let lens = problem.lens(&state.k);
        let edges = problem.edges.iter().zip(&state.lines);
        edges.map(|(edge, line)| mean_square(problem, &lens, edge, line)).collect()
    };
    let (after, before) = (squares(&settled.state), problem.start().and_then(|start| squares(&start)));
    let (after, before) = after.zip(before).ok_or(PlumbLineFailure::NoFit)?;
    let whole = |means: &[f64]| {
        let sum: f64 = means.iter().zip(problem.edges).map(|(mean, edge)| mean * edge.len() as f64).sum();
        (sum / n as f64).sqrt()
    };
    Ok(PlumbLineFit {
        lens,
        has_k2: problem.has_k2,
        cov: [[cov[(0, 0)], cov[(0, 1)]], [cov[(1, 0)], cov[(1, 1)]]],
        cov_with_centre: [[0.0; 4]; 4],
        neighbour_correlation,
        rms_px: whole(&after),
        rms_before_px: whole(&before),
        edge_rms_px: after.iter().map(|mean| mean.sqrt()).collect(),
        away_px: problem.away(&settled.state).ok_or(PlumbLineFailure::NoFit)?,
        field,
        bic_of_k2,
    })
}

fn mean_square(problem: &Problem<'_>, lens: &Lens, edge: &[PixelPoint], line: &Line) -> Option<f64> {
    let rows = edge.iter().map(|&point| problem.row(lens, point, line)).collect::<Option<Vec<_>>>()?;
    Some(rows.iter().map(|row| row.away * row.away).sum::<f64>() / rows.len().max(1) as f64)
}

impl Problem<'_> {
    fn lens(&self, k: &Vector2<f64>) -> Lens {
        let PlumbLineOptions { centre, focal_px, .. } = self.options;
        Lens { k1: k.x, k2: k.y, ..Lens::pinhole(*focal_px, centre.x, centre.y) }
    }

    /// No distortion, and the lines through the points as stored.
    fn start(&self) -> Option<State> {
        let lines = self.edges.iter().map(|edge| self.line(edge)).collect::<Option<Vec<_>>>()?;
        Some(State { k: Vector2::zeros(), lines })
    }

    /// The line with the least squared distances.
    fn line(&self, points: &[PixelPoint]) -> Option<Line> {
        let n = points.len() as f64;
        let about = |point: &PixelPoint| {
            Vector2::new(point.x - self.options.centre.x, point.y - self.options.centre.y)
        };
        let mean = points.iter().map(about).sum::<Vector2<f64>>() / n;
        let spread: Matrix2<f64> =
            points.iter().map(|point| about(point) - mean).map(|d| d * d.transpose()).sum();
        let angle_along = 0.5 * (2.0 * spread[(0, 1)]).atan2(spread[(0, 0)] - spread[(1, 1)]);
        let angle_rad = angle_along + std::f64::consts::FRAC_PI_2;
        let offset_px = mean.dot(&Vector2::new(angle_rad.cos(), angle_rad.sin()));
        offset_px.is_finite().then_some(Line { angle_rad, offset_px })
    }

    /// `None` where the lens cannot be inverted at the point.
    fn row(&self, lens: &Lens, stored: PixelPoint, line: &Line) -> Option<Row> {
        let ideal = lens.undistort(stored).ok()?;
        let [[xx, xy], [yx, yy]] = lens.undistort_jacobian(stored).ok()?;
        let (sin, cos) = line.angle_rad.sin_cos();
        // Slope of the distance by the stored point: its length is the local magnification across the line.
        let by_stored = Vector2::new(cos * xx + sin * yx, cos * xy + sin * yy);
        let weight = 1.0 / by_stored.norm();
        let (dx, dy) = (ideal.x - self.options.centre.x, ideal.y - self.options.centre.y);
        let r2 = (dx * dx + dy * dy) / self.options.focal_px.powi(2);
        // Held stored point: what a larger term moves outwards there, the ideal point gives way to.
        let outwards = -(by_stored.x * dx + by_stored.y * dy);
        let k2 = if self.has_k2 { outwards * r2 * r2 } else { 0.0 };
        Some(Row {
            across: by_stored * weight,
            away: weight * (cos * dx + sin * dy - line.offset_px),
            by_k: weight * Vector2::new(outwards * r2, k2),
            by_line: weight * Vector2::new(cos * dy - sin * dx, -1.0),
        })
    }

    fn loss(&self, state: &State) -> Option<f64> {
        let lens = self.lens(&state.k);
        let edges = self.edges.iter().zip(&state.lines);
        let sums = edges.map(|(edge, line)| Some(mean_square(self, &lens, edge, line)? * edge.len() as f64));
        sums.sum::<Option<f64>>().filter(|sum| sum.is_finite())
    }

    /// Of each point, from its edge's line to where it was seen.
    fn away(&self, state: &State) -> Option<Vec<Vec<[f64; 2]>>> {
        let lens = self.lens(&state.k);
        let of_edge = |(edge, line): (&Vec<PixelPoint>, &Line)| {
            edge.iter()
                .map(|&point| self.row(&lens, point, line).map(|row| (row.across * row.away).into()))
                .collect()
        };
        self.edges.iter().zip(&state.lines).map(of_edge).collect()
    }

    /// Correlation of what is left of neighbouring points, over all edges; 0 where nothing is left.
    fn neighbours(&self, state: &State) -> Option<f64> {
        let lens = self.lens(&state.k);
        let (mut products, mut squares) = (0.0, 0.0);
        for (edge, line) in self.edges.iter().zip(&state.lines) {
            let rows = edge.iter().map(|&point| Some(self.row(&lens, point, line)?.away));
            let away = rows.collect::<Option<Vec<f64>>>()?;
            products += away.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>();
            squares += away.iter().map(|away| away * away).sum::<f64>();
        }
        Some(if squares > 0.0 { (products / squares).clamp(-1.0, 1.0) } else { 0.0 })
    }

    /// The damped step, and the inverse of the terms' normal equations.
    fn step(&self, state: &State, damping: f64) -> Option<(State, Matrix2<f64>)> {
        let lens = self.lens(&state.k);
        let grown = |mut block: Matrix2<f64>| {
            block[(0, 0)] *= 1.0 + damping;
            block[(1, 1)] *= 1.0 + damping;
            block
        };
        let (mut left, mut right) = (Matrix2::zeros(), Vector2::zeros());
        let mut owns = Vec::new();
        for (edge, line) in self.edges.iter().zip(&state.lines) {
            let (mut own, mut mixed, mut own_right) = (Matrix2::zeros(), Matrix2::zeros(), Vector2::zeros());
            let (mut left_here, mut right_here) = (Matrix2::zeros(), Vector2::zeros());
            for &point in edge {
                let row = self.row(&lens, point, line)?;
                left_here += row.by_k * row.by_k.transpose();
                right_here -= row.by_k * row.away;
                own += row.by_line * row.by_line.transpose();
                mixed += row.by_k * row.by_line.transpose();
                own_right -= row.by_line * row.away;
            }
            let inverse = grown(own).try_inverse()?;
            left += grown(left_here) - mixed * inverse * mixed.transpose();
            right += right_here - mixed * inverse * own_right;
            owns.push((inverse, mixed, own_right));
        }
        if !self.has_k2 {
            left[(1, 1)] = 1.0;
            right.y = 0.0;
        }
        let scale = Matrix2::new(left[(0, 0)].sqrt().recip(), 0.0, 0.0, left[(1, 1)].sqrt().recip());
        let mut unit = scale * (scale * left * scale).try_inverse()? * scale;
        let by = unit * right;
        if !self.has_k2 {
            unit[(1, 1)] = 0.0;
        }
        let lines = state.lines.iter().zip(&owns).map(|(line, (inverse, mixed, own_right))| {
            let step = inverse * (own_right - mixed.transpose() * by);
            Line { angle_rad: line.angle_rad + step.x, offset_px: line.offset_px + step.y }
        });
        let next = State { k: state.k + by, lines: lines.collect() };
        (unit[(0, 0)] > 0.0 && unit.iter().all(|value| value.is_finite())).then_some((next, unit))
    }

    fn settled(&self) -> Option<Settled> {
        let mut state = self.start()?;
        let mut loss = self.loss(&state)?;
        let mut damping = 1e-3;
        for _ in 0..MOST_ROUNDS {
            let mut has_moved = false;
            while damping < 1e12 {
                let tried = self.step(&state, damping).and_then(|(next, _)| Some((self.loss(&next)?, next)));
                if let Some((next_loss, next)) = tried.filter(|(next_loss, _)| *next_loss <= loss) {
                    has_moved = loss - next_loss > 1e-12 * loss + 1e-18;
                    (state, loss) = (next, next_loss);
                    damping = (damping / 10.0).max(1e-12);
                    break;
                }
                damping *= 10.0;
            }
            if !has_moved {
                let (_, unit) = self.step(&state, 0.0)?;
                return Some(Settled { state, loss, unit });
            }
        }
        None
    }
}
