//! Head impact against motions whose answer was found in still axes and in turning ones alike (computed from the stated model).

use super::*;
use std::f64::consts::PI;

const G: f64 = STANDARD_GRAVITY_M_S2;
const STEP_S: f64 = 1e-4;

fn strike(
    ax: &dyn Fn(f64) -> f64,
    ay: &dyn Fn(f64) -> f64,
    rate_deg_s: &dyn Fn(f64) -> f64,
    head_m: [f64; 2],
) -> HeadImpact {
    let times: Vec<f64> = (0..=4000).map(|i| f64::from(i) * STEP_S).collect();
    let of = |curve: &dyn Fn(f64) -> f64, factor: f64| {
        times.iter().map(|t| curve(*t) * factor).collect::<Vec<f64>>()
    };
    let (x, y, w) = (of(ax, G), of(ay, G), of(rate_deg_s, PI / 180.0));
    let record = YawingRecord { step_s: STEP_S, ax_m_s2: &x, ay_m_s2: &y, yaw_rad_s: &w };
    head_impact(&record, &HeadOptions { head_m, ..HeadOptions::default() }).unwrap().unwrap()
}

#[test]
fn constant_accelerations_and_yaw() {
    // ax, ay in g, yaw rate in deg/s, head ahead of the c.g.; flight, place, velocity, THIV in km/h.
    type Row = ([f64; 4], f64, [f64; 2], [f64; 2], f64);
    let rows: [Row; 6] = [
        ([-10.0, 0.0, 0.0, 0.0], 0.110_619, [0.6, 0.0], [10.848_032, 0.0], 39.0529),
        ([-10.0, -4.0, 0.0, 0.0], 0.110_619, [0.6, 0.24], [10.848_032, 4.339_213], 42.0613),
        ([-6.0, -6.0, 0.0, 0.0], 0.100_981, [0.3, 0.3], [5.941_712, 5.941_712], 30.2503),
        ([-6.0, -3.0, 60.0, 0.0], 0.139_811, [0.6, 0.229_987], [8.738_502, 2.869_087], 33.1108),
        ([-4.0, -6.0, 100.0, -0.3], 0.105_761, [-0.047_190, 0.3], [5.125_357, 5.373_561], 26.7333),
        ([-6.0, 3.0, -60.0, 0.0], 0.139_811, [0.6, -0.229_987], [8.738_502, -2.869_087], 33.1108),
    ];
    for ([ax, ay, rate, x0], flight_s, place, velocity, thiv_km_h) in rows {
        let found = strike(&|_| ax, &|_| ay, &|_| rate, [x0, 0.0]);
        let near = |a: f64, b: f64| (a - b).abs() < 2e-5;
        assert!(near(found.flight_s, flight_s), "{found:?} {flight_s}");
        assert!((0..2).all(|k| near(found.place_m[k], place[k])), "{found:?} {place:?}");
        assert!((0..2).all(|k| (found.velocity_m_s[k] - velocity[k]).abs() < 2e-4), "{found:?} {velocity:?}");
        assert!((3.6 * found.thiv_m_s - thiv_km_h).abs() < 1e-3, "{found:?} {thiv_km_h}");
        assert!((found.phd_g.unwrap() - ax.hypot(ay)).abs() < 1e-9);
    }
}

#[test]
fn half_sines_with_a_rising_yaw() {
    let sine = |level: f64| move |t: f64| if t < 0.15 { level * (PI * t / 0.15).sin() } else { 0.0 };
    let found = strike(&sine(-15.0), &sine(-8.0), &|t| 150.0 * (t / 0.15).min(1.0), [0.0, 0.0]);
    assert!(
        (found.flight_s - 0.114_392).abs() < 2e-5 && (found.place_m[1] - 0.256_402).abs() < 2e-5,
        "{found:?}"
    );
    assert!(
        (found.velocity_m_s[0] - 13.103_594).abs() < 1e-3 && (found.velocity_m_s[1] - 4.449_731).abs() < 1e-3
    );
    assert!((3.6 * found.thiv_m_s - 49.8186).abs() < 2e-3, "{found:?}");
}

#[test]
fn a_head_that_never_strikes_and_bad_records() {
    let still = vec![0.0; 100];
    let record = YawingRecord { step_s: STEP_S, ax_m_s2: &still, ay_m_s2: &still, yaw_rad_s: &still };
    assert_eq!(head_impact(&record, &HeadOptions::default()), Ok(None));
    let short = YawingRecord { ay_m_s2: &still[1..], ..record };
    assert!(matches!(head_impact(&short, &HeadOptions::default()), Err(OccupantFailure::Lengths { .. })));
    let wrong = HeadOptions { lateral_m: 0.0, ..HeadOptions::default() };
    assert!(matches!(head_impact(&record, &wrong), Err(OccupantFailure::Settings { .. })));
}
