//! Grows a grid from one crossing: outwards along edges, each next crossing where the last ones let it be expected.

use super::ChessboardOptions;
use super::link::edge;
use crate::locate::{LocateOptions, locate};
use crate::rings::Ring;
use filmgauge_quantities::{GreyView, PixelPoint};
use std::collections::{BTreeMap, VecDeque};

/// Crossings near a start that may be its neighbours.
const NEAREST: usize = 24;
/// How far from its expected place a crossing may lie, in steps of the grid.
const ASTRAY: f64 = 0.3;
/// Most crossings of one lattice.
const MOST: usize = 20_000;

/// Place in the grid, from the start.
pub(super) type Node = (i32, i32);

const WAYS: [Node; 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

/// Crossings by their place in a grid.
pub(super) struct Lattice {
    nodes: BTreeMap<Node, (PixelPoint, Option<usize>)>,
}

struct Grower<'a> {
    view: &'a GreyView<'a>,
    seeds: &'a [PixelPoint],
    options: &'a ChessboardOptions,
    least_step: f64,
    lattice: Lattice,
    used: Vec<bool>,
}

impl Lattice {
    /// The lattice around a start; `None` where it has no square around it.
    pub(super) fn grown(
        view: &GreyView,
        seeds: &[PixelPoint],
        start: usize,
        options: &ChessboardOptions,
    ) -> Option<Self> {
        let least_step = options.least_contrast_share * f64::from(view.full_scale());
        let mut grower = Grower {
            view,
            seeds,
            options,
            least_step,
            lattice: Self { nodes: BTreeMap::new() },
            used: vec![false; seeds.len()],
        };
        grower.begin(start)?;
        grower.grow();
        Some(grower.lattice)
    }

    pub(super) fn get(&self, node: Node) -> Option<PixelPoint> {
        self.nodes.get(&node).map(|(at, _)| *at)
    }

    pub(super) fn len(&self) -> usize {
        self.nodes.len()
    }

    pub(super) fn nodes(&self) -> impl Iterator<Item = Node> + '_ {
        self.nodes.keys().copied()
    }

    /// Seeds that are part of it.
    pub(super) fn seeds(&self) -> impl Iterator<Item = usize> + '_ {
        self.nodes.values().filter_map(|(_, seed)| *seed)
    }

    /// Median over the squares of the least height of a square's picture over its longest side; 1 without a square.
    pub(super) fn cell_ratio(&self) -> f64 {
        let ratio = |(i, j): Node| {
            let (o, a, b) = (self.get((i, j))?, self.get((i + 1, j))?, self.get((i, j + 1))?);
            let (la, lb) = (a.distance(o), b.distance(o));
            let area = ((a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x)).abs();
            Some(area / la.max(lb).powi(2))
        };
        let mut ratios: Vec<f64> = self.nodes().filter_map(ratio).collect();
        ratios.sort_by(f64::total_cmp);
        ratios.get(ratios.len() / 2).copied().unwrap_or(1.0)
    }
}

impl Grower<'_> {
    /// The first square: the nearest two crossings that edges lead to, and the one across.
    fn begin(&mut self, start: usize) -> Option<()> {
        let origin = self.seeds[start];
        let mut near: Vec<usize> = (0..self.seeds.len()).filter(|&k| k != start).collect();
        near.sort_by(|&a, &b| self.seeds[a].distance(origin).total_cmp(&self.seeds[b].distance(origin)));
        near.truncate(NEAREST);
        near.retain(|&k| edge(self.view, origin, self.seeds[k], self.least_step).is_some());
        for (n, &a) in near.iter().enumerate() {
            for &b in &near[n + 1..] {
                let (pa, pb) = (self.seeds[a], self.seeds[b]);
                let area = (pa.x - origin.x) * (pb.y - origin.y) - (pa.y - origin.y) * (pb.x - origin.x);
                let sides = pa.distance(origin) * pb.distance(origin);
                if area.abs() < 0.15 * sides {
                    continue;
                }
                let expected = pa.moved(pb.x - origin.x, pb.y - origin.y);
                let step = pa.distance(origin).min(pb.distance(origin));
                let Some(across) = self.seed_near(expected, ASTRAY * step) else { continue };
                let pc = self.seeds[across];
                let is_square = edge(self.view, pa, pc, self.least_step).is_some()
                    && edge(self.view, pb, pc, self.least_step).is_some();
                if is_square && ![start, a, b].contains(&across) {
                    for (node, seed) in [((0, 0), start), ((1, 0), a), ((0, 1), b), ((1, 1), across)] {
                        self.put(node, self.seeds[seed], Some(seed));
                    }
                    return Some(());
                }
            }
        }
        None
    }

    fn put(&mut self, node: Node, at: PixelPoint, seed: Option<usize>) {
        if let Some(seed) = seed {
            self.used[seed] = true;
        }
        self.lattice.nodes.insert(node, (at, seed));
    }

    fn seed_near(&self, at: PixelPoint, reach: f64) -> Option<usize> {
        let free = self.seeds.iter().enumerate().filter(|(k, _)| !self.used[*k]);
        let near = free.map(|(k, seed)| (k, seed.distance(at))).filter(|(_, away)| *away < reach);
        near.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
    }

    fn grow(&mut self) {
        let mut open: VecDeque<Node> = self.lattice.nodes().collect();
        while let Some(node) = open.pop_front() {
            for way in WAYS {
                let next = (node.0 + way.0, node.1 + way.1);
                if self.lattice.nodes.contains_key(&next) || self.lattice.len() >= MOST {
                    continue;
                }
                if let Some((at, seed)) = self.next(node, way) {
                    self.put(next, at, seed);
                    // A new crossing may let its neighbours see further.
                    open.extend([next, node]);
                    open.extend(
                        WAYS.map(|way| (next.0 + way.0, next.1 + way.1))
                            .iter()
                            .filter(|near| self.lattice.nodes.contains_key(near)),
                    );
                }
            }
        }
    }

    /// The crossing one step on, where there is one and an edge leads to it with the brighter side changed.
    fn next(&self, node: Node, (di, dj): Node) -> Option<(PixelPoint, Option<usize>)> {
        let here = self.lattice.get(node)?;
        let expected = self.expected(node, (di, dj), here)?;
        let step = expected.distance(here);
        let seed = self.seed_near(expected, ASTRAY * step);
        let at = match seed {
            Some(seed) => self.seeds[seed],
            None => self.looked_up(expected, step)?,
        };
        let bright = edge(self.view, here, at, self.least_step)?;
        if let Some(back) = self.lattice.get((node.0 - di, node.1 - dj)) {
            let before = edge(self.view, back, here, self.least_step);
            if before.is_some_and(|before| before.signum() == bright.signum()) {
                return None;
            }
        }
        Some((at, seed))
    }

    /// Where the next crossing is expected: as far on as the last steps say, or beside the parallel step of a neighbour.
    fn expected(&self, (i, j): Node, (di, dj): Node, here: PixelPoint) -> Option<PixelPoint> {
        if let Some(back) = self.lattice.get((i - di, j - dj)) {
            let (dx, dy) = (here.x - back.x, here.y - back.y);
            let further = self.lattice.get((i - 2 * di, j - 2 * dj));
            // Steps shrink or grow by perspective as they did before.
            let ratio =
                further.map_or(1.0, |further| (dx.hypot(dy) / back.distance(further)).clamp(0.7, 1.4));
            return Some(here.moved(ratio * dx, ratio * dy));
        }
        [(dj, di), (-dj, -di)].into_iter().find_map(|(ei, ej)| {
            let beside = self.lattice.get((i + ei, j + ej))?;
            let ahead = self.lattice.get((i + ei + di, j + ej + dj))?;
            Some(here.moved(ahead.x - beside.x, ahead.y - beside.y))
        })
    }

    /// A crossing that was not among the seeds, looked for where it is expected.
    fn looked_up(&self, expected: PixelPoint, step: f64) -> Option<PixelPoint> {
        let radius_px = (0.35 * step).clamp(3.0, self.options.greatest_window_px);
        let search_px = (0.15 * step).clamp(1.5, 6.0);
        let fine = LocateOptions {
            window_share: 1.0,
            rim_px: 0.0,
            search_px,
            greatest_residual_share: 0.15,
            ..LocateOptions::default()
        };
        let located = locate(self.view, expected, radius_px, &fine).ok()?;
        let ring = Ring::around(self.view, located.centre, 0.8 * radius_px)?;
        let is_there = located.centre.distance(expected) < ASTRAY * step
            && ring.share >= self.options.least_score
            && ring.height() >= self.least_step * 2.0 / std::f64::consts::PI;
        is_there.then_some(located.centre)
    }
}
