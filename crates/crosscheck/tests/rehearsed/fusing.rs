//! Film and channel as one motion: better than either alone, bands hold, and what does not fit is said.

use crate::scene::{Planted, SOUND, Scene, USUAL};
use filmgauge_crosscheck::{FuseOptions, SensedAxis, fuse};

#[test]
fn fused_motion_follows_the_truth_within_its_bands() {
    let scene = Scene::new(SensedAxis::X, 1.0);
    let (mut inside, mut n, mut worst) = ([0, 0], 0, 0.0_f64);
    for seed in 0..40 {
        let planted = Planted { gain: 1.01, offset_m_s2: 0.5, lag_s: 0.000_3 };
        let (film, channel) = scene.run(planted, USUAL, 7000 + seed);
        let fused = fuse(&film, &channel, SensedAxis::X, &FuseOptions::default()).unwrap();
        assert!(fused.consistent, "{}", fused.consistency);
        assert_eq!(
            fused.times_s.len(),
            film.times_s.iter().filter(|t| **t <= fused.times_s[fused.times_s.len() - 1]).count()
        );
        for at in (0..fused.times_s.len()).step_by(25) {
            let t = fused.times_s[at];
            let place = fused.place_m[at];
            let moved = place.value
                - fused.place_m[0].value
                - (scene.position_at(t) - scene.position_at(fused.times_s[0]));
            let speed = fused.speed_m_s[at];
            let slope = (scene.position_at(t + 1e-4) - scene.position_at(t - 1e-4)) / 2e-4;
            // The film's clock is off by its own doubt: the truth that it can know is its own.
            let known_u = 300.0 * USUAL.time_s;
            inside[0] += i32::from(moved.abs() <= 1.96 * place.u.hypot(USUAL.film_m) + 0.02);
            inside[1] += i32::from((speed.value - slope).abs() <= 1.96 * speed.u + known_u);
            worst = worst.max((speed.value - slope).abs());
            n += 1;
        }
    }
    assert!(inside.iter().all(|share| f64::from(*share) >= 0.93 * f64::from(n)), "{inside:?} of {n}");
    assert!(worst < 0.3, "{worst}");
}

#[test]
fn a_faulty_channel_is_not_consistent() {
    let scene = Scene::new(SensedAxis::X, 1.0);
    let (film, channel) = scene.run(Planted { gain: 1.2, ..SOUND }, USUAL, 7100);
    let fused = fuse(&film, &channel, SensedAxis::X, &FuseOptions::default()).unwrap();
    assert!(
        (fused.gain.value - 1.2).abs() < 0.02 && !fused.consistent,
        "{:?} {}",
        fused.gain,
        fused.consistency
    );
    let none = FuseOptions { calibration_u: 0.0, ..FuseOptions::default() };
    assert!(fuse(&film, &channel, SensedAxis::X, &none).is_err());
}
