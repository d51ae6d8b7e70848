//! Checks of edges that are followed: bent ones run true, doubt holds the truth, and what leads nowhere is refused.

use super::*;
use filmgauge_quantities::{GreyImage, PixelPoint};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const WIDTH: usize = 420;
const HEIGHT: usize = 320;

/// A step at a circle so large that it looks like an edge bent by a lens; gathered over each pixel with 5 x 5 samples.
struct Bent {
    centre: PixelPoint,
    radius_px: f64,
}

impl Bent {
    /// The circle through the middle of the picture that runs there at an angle.
    fn running(angle_rad: f64, radius_px: f64) -> Self {
        let (sin, cos) = angle_rad.sin_cos();
        Self { centre: PixelPoint::new(208.3 - radius_px * sin, 161.7 + radius_px * cos), radius_px }
    }

    /// The point of the circle at a distance along it from the middle.
    fn at(&self, angle_rad: f64, along_px: f64) -> PixelPoint {
        let turn = angle_rad + along_px / self.radius_px;
        let (sin, cos) = turn.sin_cos();
        self.centre.moved(self.radius_px * sin, -self.radius_px * cos)
    }

    fn image(&self, noise: f64, seed: u64, hidden: impl Fn(f64, f64) -> bool) -> GreyImage {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, noise).unwrap();
        let beyond = |x: f64, y: f64| PixelPoint::new(x, y).distance(self.centre) - self.radius_px;
        let level = |x: f64, y: f64| {
            50.0 + 120.0 * 0.5 * (1.0 + libm::erf(beyond(x, y) / (0.6 * std::f64::consts::SQRT_2)))
        };
        let grey = (0..WIDTH * HEIGHT).map(|i| {
            let (x, y) = ((i % WIDTH) as f64, (i / WIDTH) as f64);
            let sub = |k: i32| (f64::from(k) + 0.5) / 5.0 - 0.5;
            let samples = (0..25).map(|k| level(x + sub(k % 5), y + sub(k / 5)));
            let level = match beyond(x, y) {
                _ if hidden(x, y) => 90.0,
                away if away.abs() > 6.0 => level(x, y),
                _ => samples.sum::<f64>() / 25.0,
            };
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
            let stored = (256.0 * (level + noise.sample(&mut random))).round().clamp(0.0, 65_535.0) as u16;
            stored
        });
        GreyImage::from_u16(WIDTH, HEIGHT, 16, grey.collect()).unwrap()
    }

    fn off(&self, point: &EdgePoint) -> f64 {
        point.at.distance(self.centre) - self.radius_px
    }
}

fn options(noise: f64) -> TraceOptions {
    let edge = EdgeOptions { noise_floor_grey: 256.0 * noise, ..TraceOptions::default().edge };
    TraceOptions { edge, ..TraceOptions::default() }
}

#[test]
fn a_bent_edge_is_followed_whichever_way_it_runs() {
    for degrees in [0.0, 3.0, 27.0, 45.0, 62.0, 90.0, 151.0, 200.0] {
        let angle = f64::to_radians(degrees);
        let bent = Bent::running(angle, 900.0);
        let image = bent.image(0.0, 1, |_, _| false);
        let [from, to] = [-130.0, 130.0].map(|along| bent.at(angle, along));
        let trace = trace_edge(&image.view(), from.moved(1.7, -1.2), to.moved(-1.4, 1.6), &options(0.05))
            .unwrap_or_else(|failure| panic!("{degrees}: {failure}"));
        assert_eq!(trace.points.len(), trace.n_sought, "{degrees}");
        // Within 12 px such a circle rises by 0.02 px; a mean over a stretch is off by a third of that at most.
        let worst = trace.points.iter().map(|point| bent.off(point).abs()).fold(0.0, f64::max);
        assert!(worst < 0.012, "{degrees}: {worst}");
        for point in &trace.points {
            let (dx, dy) = (point.at.x - bent.centre.x, point.at.y - bent.centre.y);
            let outwards = (dx * point.across[0] + dy * point.across[1]) / bent.radius_px;
            assert!((outwards.abs() - 1.0).abs() < 1e-4 && point.u_px < 0.01, "{degrees}: {point:?}");
            assert!(outwards * point.step_grey > 0.0, "brighter outside: {point:?}");
        }
    }
}

#[test]
fn stated_doubt_of_points_holds_the_truth() {
    let (mut inside, mut n) = (0_u32, 0_u32);
    for seed in 0..40 {
        let angle = 0.05 + 0.037 * f64::from(seed);
        let bent = Bent::running(angle, 4000.0);
        let image = bent.image(4.0, u64::from(seed as u32), |_, _| false);
        let [from, to] = [-130.0, 130.0].map(|along| bent.at(angle, along));
        for point in trace_edge(&image.view(), from, to, &options(0.3)).unwrap().points {
            inside += u32::from(bent.off(&point).abs() <= 1.96 * point.u_px);
            n += 1;
        }
    }
    let share = f64::from(inside) / f64::from(n);
    assert!((0.93..=0.97).contains(&share), "{inside} of {n}");
}

#[test]
fn a_hidden_stretch_is_passed_over() {
    let bent = Bent::running(0.1, 1500.0);
    let image = bent.image(1.0, 7, |x, _| (190.0..250.0).contains(&x));
    let [from, to] = [-150.0, 150.0].map(|along| bent.at(0.1, along));
    let trace = trace_edge(&image.view(), from, to, &options(0.3)).unwrap();
    assert!((14..trace.n_sought - 3).contains(&trace.points.len()), "{}", trace.points.len());
    assert!(trace.points.iter().all(|point| bent.off(point).abs() < 0.1), "{:?}", trace.points);
}

#[test]
fn what_leads_nowhere_is_refused_with_its_reason() {
    let bent = Bent::running(0.0, 4000.0);
    let image = bent.image(1.0, 3, |_, _| false);
    let [from, to] = [-130.0, 130.0].map(|along| bent.at(0.0, along));
    let said = |from: PixelPoint, to: PixelPoint| {
        trace_edge(&image.view(), from, to, &options(0.3)).unwrap_err().to_string()
    };
    assert!(said(from, from.moved(9.0, 0.0)).contains("9 px apart"));
    assert!(said(PixelPoint::new(f64::NAN, 4.0), to).contains("px apart"));
    assert!(said(from.moved(0.0, 60.0), to.moved(0.0, 60.0)).contains("no edge at its first end"));
    assert!(said(from, to.moved(0.0, 25.0)).contains("passes the other"));
    let half = bent.image(1.0, 3, |x, _| x > 180.0);
    let broken = trace_edge(&half.view(), from, to, &options(0.3)).unwrap_err();
    assert!(broken.to_string().contains("places only"), "{broken}");
    let long = TraceOptions { length_px: 30.0, ..options(0.3) };
    assert!(long.check().is_err() && options(0.3).check().is_ok());
}
