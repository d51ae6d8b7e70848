//! The first conic through a rim of which many places may be wrong (Fischler & Bolles 1981, Communications of the ACM
//! 24:381-395): the start from a few places that most others agree with.

use super::ellipse::{Conic, FAR, NEAR_SHARE};
use super::rays::N_RAYS;
use multiversion::multiversion;

/// Starts from six places each.
const N_STARTS: usize = 30;
/// A search goes on while its best start has this share of the least places asked for, rising to all of them over so many
/// starts: most rims that are none are told by the first few.
const HOPE_SHARE: f64 = 0.6;
const N_FIRST_STARTS: usize = 4;
const N_HOPEFUL: f64 = 16.0;
/// Fewest places that carry an ellipse.
const FEWEST: usize = 12;

/// The conic that most places lie near: through all of them, or through six in turn.
pub(super) fn first(points: &[[f64; 2]], least: f64) -> Option<Conic> {
    let n = points.len();
    if n < FEWEST || (n as f64) < least {
        return None;
    }
    let places = Places::of(points);
    let counted = |conic: Option<Conic>| {
        let conic = conic?;
        Some((places.near(&conic), conic))
    };
    let mut best = counted(Conic::through(points.iter().map(|&point| (point, 1.0))));
    let most = |best: &Option<(usize, Conic)>| best.as_ref().map_or(0, |(n_near, _)| *n_near);
    // Nearly all lie on it already, or a start from a few may do better.
    for k in 0..N_STARTS {
        let n_near = most(&best);
        let hope = HOPE_SHARE + (1.0 - HOPE_SHARE) * (k as f64 / N_HOPEFUL).min(1.0);
        let is_hopeless = k > N_FIRST_STARTS && (n_near as f64) < hope * least;
        if 10 * n_near >= 9 * n || is_hopeless {
            break;
        }
        let chosen = (0..6).map(|j| (points[(k * 5 + j * n / 6 + (k * j * 3) % 7) % n], 1.0));
        let tried = counted(Conic::through(chosen));
        if most(&tried) > n_near {
            best = tried;
        }
    }
    best.filter(|(n_near, _)| *n_near as f64 >= least).map(|(_, conic)| conic)
}

/// Places in single precision, side by side; those beyond the last are near nothing.
struct Places {
    x: [f32; N_RAYS],
    y: [f32; N_RAYS],
}

impl Places {
    #[expect(clippy::cast_possible_truncation, reason = "places that are only counted")]
    fn of(points: &[[f64; 2]]) -> Self {
        let (mut x, mut y) = ([f32::NAN; N_RAYS], [f32::NAN; N_RAYS]);
        for ((x, y), point) in x.iter_mut().zip(&mut y).zip(points) {
            (*x, *y) = (point[0] as f32, point[1] as f32);
        }
        Self { x, y }
    }

    /// How many lie near a conic.
    #[expect(clippy::cast_possible_truncation, reason = "places that are only counted")]
    fn near(&self, conic: &Conic) -> usize {
        near(self, conic.middle.map(|at| at as f32), conic.form.map(|part| part as f32))
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn near(places: &Places, [x0, y0]: [f32; 2], [a, b, c]: [f32; 3]) -> usize {
    const LOW: f32 = ((1.0 - FAR * NEAR_SHARE) * (1.0 - FAR * NEAR_SHARE)) as f32;
    const HIGH: f32 = ((1.0 + FAR * NEAR_SHARE) * (1.0 + FAR * NEAR_SHARE)) as f32;
    let mut n = 0_u32;
    for k in 0..N_RAYS {
        let (x, y) = (places.x[k] - x0, places.y[k] - y0);
        let square = a * x * x + b * x * y + c * y * y;
        n += u32::from(square >= LOW) & u32::from(square <= HIGH);
    }
    n as usize
}
