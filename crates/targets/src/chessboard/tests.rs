//! Chessboards painted with exact truth, whole and spoilt.

use super::*;
use crate::painted::erf;
use filmgauge_quantities::GreyImage;
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// Camera and stand of a painted board.
struct Painting {
    columns: usize,
    rows: usize,
    /// Homography from squares (first inner corner at the origin) to pixels.
    map: [[f64; 3]; 3],
    /// Standard deviation of the softness, px.
    soft_px: f64,
    noise: f64,
}

impl Painting {
    /// A board of that many inner corners seen at a slant about a line turned by `turn`, `scale` px a square.
    fn slanted(columns: usize, rows: usize, scale: f64, slant: f64, turn: f64) -> Self {
        let (sin, cos) = turn.sin_cos();
        // Squares about the middle of the board, slanted about the turned x axis, seen from 12 squares away.
        let (mx, my) = ((columns - 1) as f64 / 2.0, (rows - 1) as f64 / 2.0);
        let (far, tilt, short) = (14.0, slant.sin(), slant.cos());
        let u = [cos, sin, -cos * mx - sin * my];
        let v = [-sin, cos, sin * mx - cos * my];
        let w: [f64; 3] = std::array::from_fn(|k| v[k] * tilt / far + if k == 2 { 1.0 } else { 0.0 });
        let x: [f64; 3] = std::array::from_fn(|k| scale * (cos * u[k] - sin * short * v[k]) + 320.0 * w[k]);
        let y: [f64; 3] = std::array::from_fn(|k| scale * (sin * u[k] + cos * short * v[k]) + 240.0 * w[k]);
        Self { columns, rows, map: [x, y, w], soft_px: 0.8, noise: 2.0 }
    }

    fn to_px(&self, p: [f64; 2]) -> PixelPoint {
        let [x, y, w] = self.map.map(|row| row[0] * p[0] + row[1] * p[1] + row[2]);
        PixelPoint::new(x / w, y / w)
    }

    fn painted(&self) -> GreyImage {
        let m = adjugate(self.map);
        let level = |x: f64, y: f64| {
            let [u, v, w] = m.map(|row| row[0] * x + row[1] * y + row[2]);
            let (u, v) = (u / w, v / w);
            // Slopes of u and v give the distance in px to an edge, over which a bell softens it.
            let slope =
                |k: usize, at: f64| ((m[k][0] - at * m[2][0]) / w).hypot((m[k][1] - at * m[2][1]) / w);
            let (du, dv) = (slope(0, u) * self.soft_px, slope(1, v) * self.soft_px);
            let soft = |away: f64| erf(away / std::f64::consts::SQRT_2);
            let wave = |at: f64, spread: f64| {
                let sign = if at.round().rem_euclid(2.0) < 0.5 { 1.0 } else { -1.0 };
                sign * soft((at - at.round()) / spread)
            };
            let within = |at: f64, last: usize, spread: f64| {
                (1.0 + soft((at + 1.0) / spread)) * (1.0 + soft((last as f64 - at) / spread)) / 4.0
            };
            let cover = within(u, self.columns, du) * within(v, self.rows, dv);
            200.0 - cover * 80.0 * (1.0 + wave(u, du) * wave(v, dv))
        };
        let (width, height) = (640, 480);
        let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
        let normal = Normal::new(0.0, self.noise).unwrap();
        let pixel = |i: usize| {
            let grey = level((i % width) as f64, (i / width) as f64);
            (grey + normal.sample(&mut random)).round().clamp(0.0, 255.0) as u8
        };
        GreyImage::from_u8(width, height, (0..width * height).map(pixel).collect()).unwrap()
    }
}

/// The inverse up to a factor.
fn adjugate(m: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let minor = |r: usize, c: usize| {
        let (a, b) = ((r + 1) % 3, (r + 2) % 3);
        let (p, q) = ((c + 1) % 3, (c + 2) % 3);
        m[a][p] * m[b][q] - m[a][q] * m[b][p]
    };
    std::array::from_fn(|r| std::array::from_fn(|c| minor(c, r)))
}

/// Greatest distance of a corner from its truth, px; the order may be turned by half a turn.
fn worst(board: &Chessboard, painting: &Painting) -> f64 {
    let at = |k: usize| painting.to_px([(k % board.columns) as f64, (k / board.columns) as f64]);
    let n = board.corners.len();
    let as_is = (0..n).map(|k| board.corners[k].at.distance(at(k))).fold(0.0, f64::max);
    let turned = (0..n).map(|k| board.corners[n - 1 - k].at.distance(at(k))).fold(0.0, f64::max);
    as_is.min(turned)
}

#[test]
fn whole_boards_are_found_at_any_turn_and_slant() {
    for (slant, turn, scale) in [
        (0.0, 0.0, 44.0),
        (0.3, 0.4, 40.0),
        (0.6, 1.2, 40.0),
        (0.8, -0.7, 42.0),
        (0.9, 2.9, 36.0),
        (0.4, 1.57, 20.0),
    ] {
        let painting = Painting::slanted(9, 6, scale, slant, turn);
        let board = find_chessboard(&painting.painted().view(), &ChessboardOptions::of(9, 6));
        let board = board.unwrap_or_else(|why| panic!("slant {slant}, turn {turn}: {why}"));
        let worst = worst(&board, &painting);
        assert!(worst < 0.12, "slant {slant}, turn {turn}: {worst} px");
    }
}

#[test]
fn blur_costs_little() {
    for soft_px in [1.5, 3.0] {
        let painting = Painting { soft_px, ..Painting::slanted(9, 6, 40.0, 0.5, 0.3) };
        let board = find_chessboard(&painting.painted().view(), &ChessboardOptions::of(9, 6));
        let board = board.unwrap_or_else(|why| panic!("softness {soft_px}: {why}"));
        assert!(worst(&board, &painting) < 0.25, "softness {soft_px}: {}", worst(&board, &painting));
        assert!(board.corners.iter().all(|corner| corner.window_px <= 0.4 * 40.0 && corner.cov.xx > 0.0));
    }
}

#[test]
fn the_other_way_round_the_grid_is_the_same_board() {
    let image = Painting::slanted(9, 6, 40.0, 0.3, 0.4).painted();
    let board = find_chessboard(&image.view(), &ChessboardOptions::of(6, 9)).unwrap();
    assert!(board.columns == 6 && board.rows == 9 && board.corners.len() == 54);
}

fn refused(painting: &Painting, columns: usize, rows: usize, part: &str) {
    let said = find_chessboard(&painting.painted().view(), &ChessboardOptions::of(columns, rows))
        .unwrap_err()
        .to_string();
    assert!(said.contains(part), "{said}");
}

#[test]
fn other_boards_are_refused_with_the_size_seen() {
    refused(&Painting::slanted(9, 6, 40.0, 0.3, 0.4), 8, 6, "9x6 inner corners is seen, not 8x6");
    refused(&Painting::slanted(7, 6, 40.0, 0.3, 0.4), 9, 6, "7x6 inner corners is seen, not 9x6");
    refused(&Painting::slanted(9, 6, 60.0, 1.38, 0.2), 9, 6, "edge on");
    let bare = GreyImage::from_u8(320, 240, vec![90; 320 * 240]).unwrap();
    let said = find_chessboard(&bare.view(), &ChessboardOptions::of(9, 6)).unwrap_err();
    assert_eq!(said, ChessboardFailure::NoBoard);
    let said = find_chessboard(&bare.view(), &ChessboardOptions::of(2, 6)).unwrap_err().to_string();
    assert!(said.contains("columns is 2"), "{said}");
}

#[test]
fn a_board_cut_by_the_edge_of_the_picture_is_refused() {
    let mut painting = Painting::slanted(9, 6, 44.0, 0.2, 0.5);
    let [x, _, w] = &mut painting.map;
    for (x, w) in x.iter_mut().zip(w) {
        *x -= 250.0 * *w;
    }
    refused(&painting, 9, 6, "show the whole board");
}
