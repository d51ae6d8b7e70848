//! Exact areas: polygons clipped by half-planes, and their share inside the unit circle.

/// Corners that a small convex polygon may have: a cell of four, clipped by up to four half-planes.
const MOST: usize = 12;

/// A small convex polygon, counter-clockwise or clockwise as its cell was.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    corners: [[f64; 2]; MOST],
    n: usize,
}

impl Cell {
    /// A parallelogram about `centre` with half-sides `a` and `b`.
    pub(super) fn about(centre: [f64; 2], a: [f64; 2], b: [f64; 2]) -> Self {
        let mut corners = [[0.0; 2]; MOST];
        for (corner, (s, t)) in corners.iter_mut().zip([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]) {
            *corner = [centre[0] + s * a[0] + t * b[0], centre[1] + s * a[1] + t * b[1]];
        }
        Self { corners, n: 4 }
    }

    /// The part where `normal · p >= level` (Sutherland & Hodgman 1974, Communications of the ACM 17:32).
    pub(super) fn beyond(&self, normal: [f64; 2], level: f64) -> Self {
        let mut kept = Self { corners: [[0.0; 2]; MOST], n: 0 };
        for i in 0..self.n {
            let (p, q) = (self.corners[i], self.corners[(i + 1) % self.n]);
            let side_p = normal[0] * p[0] + normal[1] * p[1] - level;
            let side_q = normal[0] * q[0] + normal[1] * q[1] - level;
            if side_p >= 0.0 {
                kept.push(p);
            }
            if (side_p >= 0.0) != (side_q >= 0.0) {
                let t = side_p / (side_p - side_q);
                kept.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
            }
        }
        kept
    }

    /// Area inside the circle of this radius about the origin.
    pub(super) fn area_in_circle(&self, radius: f64) -> f64 {
        let signed: f64 =
            (0..self.n).map(|i| sector(self.corners[i], self.corners[(i + 1) % self.n], radius)).sum();
        signed.abs()
    }

    fn push(&mut self, corner: [f64; 2]) {
        if let Some(place) = self.corners.get_mut(self.n) {
            *place = corner;
            self.n += 1;
        }
    }
}

/// Signed area shared by the circle and the triangle of the origin, p and q.
fn sector(p: [f64; 2], q: [f64; 2], radius: f64) -> f64 {
    let d = [q[0] - p[0], q[1] - p[1]];
    let length2 = d[0] * d[0] + d[1] * d[1];
    if length2 <= 0.0 {
        return 0.0;
    }
    let along = p[0] * d[0] + p[1] * d[1];
    let disc = along * along - length2 * (p[0] * p[0] + p[1] * p[1] - radius * radius);
    if disc <= 0.0 {
        return arc(p, q, radius);
    }
    let root = disc.sqrt();
    let (enter, leave) = ((-along - root) / length2, (-along + root) / length2);
    if leave <= 0.0 || enter >= 1.0 {
        return arc(p, q, radius);
    }
    let at = |t: f64| [p[0] + t * d[0], p[1] + t * d[1]];
    let (first, last) = (at(enter.max(0.0)), at(leave.min(1.0)));
    let mut area = 0.5 * cross(first, last);
    if enter > 0.0 {
        area += arc(p, first, radius);
    }
    if leave < 1.0 {
        area += arc(last, q, radius);
    }
    area
}

/// Signed area of the circle's sector between the directions of p and q.
fn arc(p: [f64; 2], q: [f64; 2], radius: f64) -> f64 {
    0.5 * radius * radius * cross(p, q).atan2(p[0] * q[0] + p[1] * q[1])
}

fn cross(p: [f64; 2], q: [f64; 2]) -> f64 {
    p[0] * q[1] - p[1] * q[0]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn circle_areas_are_exact() {
        let wide = Cell::about([0.1, -0.2], [3.0, 0.5], [-0.5, 3.0]);
        assert!((wide.area_in_circle(1.0) - PI).abs() < 1e-12);
        let small = Cell::about([0.1, 0.2], [0.05, 0.0], [0.0, 0.05]);
        assert!((small.area_in_circle(1.0) - 0.01).abs() < 1e-15);
        let half = wide.beyond([0.0, 1.0], 0.0);
        assert!((half.area_in_circle(1.0) - PI / 2.0).abs() < 1e-12);
        // Computed from the closed form of a circular segment: acos(h) - h sqrt(1 - h²) with h = 0.3.
        let segment = 0.3_f64.acos() - 0.3 * (1.0_f64 - 0.09).sqrt();
        assert!((wide.beyond([1.0, 0.0], 0.3).area_in_circle(1.0) - segment).abs() < 1e-12);
        assert!(Cell::about([5.0, 5.0], [0.1, 0.0], [0.0, 0.1]).area_in_circle(1.0).abs() < 1e-15);
    }

    #[test]
    fn cells_of_a_grid_add_up_to_the_circle() {
        let mut sum = 0.0;
        for i in 0..40 {
            for j in 0..40 {
                let centre = [f64::from(i) * 0.06 - 1.17, f64::from(j) * 0.06 - 1.17];
                sum += Cell::about(centre, [0.03, 0.0], [0.0, 0.03]).area_in_circle(1.0);
            }
        }
        assert!((sum - PI).abs() < 1e-12);
    }
}
