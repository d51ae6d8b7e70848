//! Closed forms of the time base, each computed from the formula stated beside it unless a source is named.

use crate::simulation::lit_share;
use filmgauge_timing::{
    ClockNoise, ClockOrigin, ClockPoint, Edge, FilmClock, FilmSpeedOptions, FlashOptions, Pulse,
    PulseOptions, RollingShutter, SwitchOptions, TimingNote, ZeroMethod, fit_clock_points, fit_film_clock,
    flash_zero, mark_time_s, pulses, row_time_s, switch_instant,
};

fn marks(frames: &[f64], u_frames: f64) -> Vec<Pulse> {
    frames.iter().map(|&frame| Pulse { frame, u_frames, edge: Edge::Spot }).collect()
}

#[test]
fn speed_from_marks_at_its_two_ends() {
    // 49.8 frames for 10 intervals of 100 Hz: 498 frames/s; each end read to one frame, evenly:
    // u/speed = √2 / √12 / 49.8 = 0.82 %.
    let one_frame = 1.0 / 12.0_f64.sqrt();
    let ends = [
        ClockPoint { frame: 3.1, time_s: 0.0, u_s: one_frame / 498.0 },
        ClockPoint { frame: 52.9, time_s: 0.1, u_s: one_frame / 498.0 },
    ];
    let clock = fit_clock_points(&ends, &FilmSpeedOptions::default()).unwrap();
    let (speed, u) = clock.frames_per_s(20.0);
    assert!((speed - 498.0).abs() < 1e-9);
    assert!((100.0 * u / speed - 0.82).abs() < 0.005, "{}", 100.0 * u / speed);
    assert_eq!(clock.notes(), [TimingNote::ResidualsNotJudged]);
    // All eleven marks fitted, the same reading error: the slope's own formula, u/√(S) over k = 0 … 10.
    let all: Vec<f64> = (0..11).map(|k| 3.1 + 4.98 * f64::from(k)).collect();
    let clock = fit_film_clock(&marks(&all, one_frame), 100.0, &FilmSpeedOptions::default()).unwrap();
    let (speed, u) = clock.frames_per_s(20.0);
    assert!((speed - 498.0).abs() < 1e-6);
    assert!((u / speed - one_frame / 4.98 / 110.0_f64.sqrt()).abs() < 1e-9);
}

#[test]
fn time_on_a_film_that_accelerates() {
    // n = f0 t + k t²/2 with f0 = 980/s, k = 200/s²; t = (−f0 + √(f0² + 2 k n)) / k.
    let frame = |time_s: f64| 980.0 * time_s + 100.0 * time_s * time_s;
    let all: Vec<f64> = (0..26).map(|k| frame(0.01 * f64::from(k))).collect();
    let clock = fit_film_clock(&marks(&all, 1e-4), 100.0, &FilmSpeedOptions::default()).unwrap();
    let nominal = FilmClock::constant(1000.0, 0.0).unwrap();
    let constant = FilmClock::constant(980.0, 0.0).unwrap();
    for (at, stated_s, nominal_s, constant_s) in [
        (50.0, 0.050_757_5, 0.050, 0.051_020_4),
        (100.0, 0.100_999_9, 0.100, 0.102_040_8),
        (150.0, 0.150_742_5, 0.150, 0.153_061_2),
    ] {
        assert!((clock.time_s(at).0 - stated_s).abs() < 1.5e-7, "{at}: {}", clock.time_s(at).0);
        assert!((nominal.time_s(at).0 - nominal_s).abs() < 1e-12);
        assert!((constant.time_s(at).0 - constant_s).abs() < 5.1e-8);
        assert!((clock.frame_at(stated_s).unwrap().0 - at).abs() < 2e-4);
    }
    let speed_at_150 = (980.0_f64.powi(2) + 2.0 * 200.0 * 150.0).sqrt();
    assert!((clock.frames_per_s(150.0).0 - speed_at_150).abs() < 0.02);
    assert!(clock.degree() >= 2);
}

#[test]
fn time_zero_of_a_flash_first_seen() {
    // u = 1/(fps √12): 400, 500, 1000, 2000/s → 0.7217, 0.5774, 0.2887, 0.1443 ms;
    // at 27.778 m/s 20.05, 16.04, 8.02, 4.01 mm.
    let levels: Vec<f64> = (0..20).map(|at| if at < 10 { 30.0 } else { 255.0 }).collect();
    let zero = flash_zero(&levels, &FlashOptions { exposure_share: 0.2, ..FlashOptions::default() }).unwrap();
    assert_eq!(zero.method, ZeroMethod::Overexposed);
    // Exposure of frame 9 ended at 9.1, that of frame 10 at 10.1.
    assert!((zero.frame - 9.6).abs() < 1e-12);
    for (speed, ms, mm) in
        [(400.0, 0.7217, 20.05), (500.0, 0.5774, 16.04), (1000.0, 0.2887, 8.02), (2000.0, 0.1443, 4.01)]
    {
        let u_s = zero.u_frames / speed;
        assert!((1e3 * u_s - ms).abs() < 5.1e-5, "{speed}: {u_s}");
        assert!((1e3 * u_s * 27.778 - mm).abs() < 5.1e-3);
    }
}

#[test]
fn speed_between_two_switches() {
    // 0.965 m in 65.795 ms: 14.6667 m/s = 52.8 km/h, the speed that an FHWA pole-test report (FOIL, public domain)
    // gives for the vehicle leaving its rail.
    let closes_at = |instant_s: f64| -> Vec<f64> {
        (0..200_000).map(|at| if f64::from(at) * 1e-6 >= instant_s { 5.0 } else { 0.0 }).collect()
    };
    let first = switch_instant(&closes_at(0.0100004), 1e6, &SwitchOptions::default()).unwrap();
    let second = switch_instant(&closes_at(0.0757954), 1e6, &SwitchOptions::default()).unwrap();
    let speed_m_s = 0.965 / (second.time_s - first.time_s);
    assert!((speed_m_s - 14.6667).abs() < 5e-4, "{speed_m_s}");
    assert!((3.6 * speed_m_s - 52.8).abs() < 0.005);
    assert!((first.u_s - 1e-6 / 12.0_f64.sqrt()).abs() < 1e-15);
}

#[test]
fn rolling_shutter_shears_time() {
    // 1080 rows in 8.33 ms, targets 300 rows apart, 27.778 m/s: 2.3139 ms and 64.27 mm, which over 0.75 m looks like
    // a lean of 4.898°.
    let shutter = RollingShutter { row_s: 0.008_33 / 1080.0, row_u_s: 1e-9 };
    let clock = FilmClock::constant(100.0, 0.0).unwrap();
    let (upper, lower) = (mark_time_s(&clock, 5.0, 210.0, shutter), mark_time_s(&clock, 5.0, 510.0, shutter));
    let skew_s = lower.0 - upper.0;
    assert!((1e3 * skew_s - 2.3139).abs() < 5e-5);
    assert!((skew_s - row_time_s(300.0, shutter)).abs() < 1e-15);
    let skew_mm = 27.778e3 * skew_s;
    assert!((skew_mm - 64.27).abs() < 0.01, "{skew_mm}");
    assert!(((skew_mm / 750.0).atan().to_degrees() - 4.898).abs() < 1e-3);
    assert!((lower.1 - 510e-9).abs() < 1e-15);
}

#[test]
fn lamp_by_its_share_of_an_exposure() {
    // 1000/s, exposure 0.5 ms from 12.000 ms on, brightness 0.3, going on: t_end − b t_exp = 12.350 ms.
    let film = |on: f64| -> Vec<f64> {
        (0..40).map(|at| 20.0 + 150.0 * lit_share(f64::from(at), on, 0.5)).collect()
    };
    let mut levels = film(12.1);
    levels[12] = 20.0 + 0.3 * 150.0;
    let options = PulseOptions { exposure_share: 0.5, linearity_u: 0.002, ..PulseOptions::default() };
    let train = pulses(&levels, &options).unwrap();
    // The clock counts from the mid-exposure of frame 0, which is 0.25 ms after its start.
    let from_start_s = FilmClock::constant(1000.0, 0.0).unwrap().time_s(train.pulses[0].frame).0 + 0.25e-3;
    assert!((1e3 * from_start_s - 12.350).abs() < 1e-5, "{from_start_s}");
    let flash_options = FlashOptions { exposure_share: 0.5, linearity_u: 0.002, ..FlashOptions::default() };
    let flash = flash_zero(&levels, &flash_options).unwrap();
    assert!((flash.frame + 0.25 - 12.350).abs() < 5e-3, "{flash:?}");
    // Going off: t_start + b t_exp.
    let mut dark: Vec<f64> = levels.iter().map(|level| 190.0 - level).collect();
    dark[12] = 20.0 + 0.3 * 150.0;
    let train = pulses(&dark, &options).unwrap();
    assert!((train.pulses[0].frame + 0.25 - 12.150).abs() < 1e-5 && train.pulses[0].edge == Edge::Off);
}

#[test]
fn straight_line_of_the_gum_as_a_clock() {
    // JCGM 100:2008, H.3, table H.6, through the clock: t is read as frame, b + 0.5 (t − 20) as time, so that it runs
    // forwards. y2 and its prediction at 30 keep their printed uncertainties, widened to Student's factor
    // 2.262/1.960 for 9 degrees of freedom (table G.2).
    let t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    let b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];
    let points: Vec<ClockPoint> = t
        .iter()
        .zip(b)
        .map(|(&frame, b)| ClockPoint { frame, time_s: b + 0.5 * (frame - 20.0), u_s: 1.0 })
        .collect();
    let options =
        FilmSpeedOptions { most_degree: 1, noise: ClockNoise::Residuals, ..FilmSpeedOptions::default() };
    let clock = fit_clock_points(&points, &options).unwrap();
    assert!((clock.time_s(30.0).0 - 5.0 + 0.1494).abs() < 5e-5);
    assert!((clock.time_s(20.0).0 + 0.1712).abs() < 5e-5);
    assert!((1.0 / clock.frames_per_s(20.0).0 - 0.5 - 0.002_18).abs() < 5e-6);
    let student = 2.262 / 1.959_964;
    let (slope_u, at_30_u) =
        (clock.covariance_s2(30.0, 30.0).sqrt() / student, clock.covariance_s2(20.0, 20.0).sqrt() / student);
    assert!((slope_u - 0.0041).abs() < 5e-5, "{slope_u}");
    assert!((at_30_u - 0.0029).abs() < 5e-5, "{at_30_u}");
    let (chi2, freedom) = clock.chi2();
    assert_eq!(freedom, 9);
    assert!(((chi2 / 9.0).sqrt() - 0.0035).abs() < 5e-5);
}

#[test]
fn a_fixed_origin_is_kept_exactly() {
    let points: Vec<ClockPoint> = (1..8)
        .map(|k| ClockPoint { frame: 10.0 * f64::from(k), time_s: 0.02 * f64::from(k), u_s: 1e-5 })
        .collect();
    let origin = ClockOrigin::Fixed { frame: 4.0, time_s: 0.008 };
    let options = FilmSpeedOptions { origin, ..FilmSpeedOptions::default() };
    let clock = fit_clock_points(&points, &options).unwrap();
    assert!((clock.time_s(4.0).0 - 0.008).abs() < 1e-15 && clock.time_s(4.0).1 < 1e-12);
    assert!((clock.frames_per_s(30.0).0 - 500.0).abs() < 1e-6);
    let frames: Vec<f64> = (0..8).map(|k| 7.3 + 5.0 * f64::from(k)).collect();
    let origin = ClockOrigin::Fixed { frame: 12.0, time_s: 0.0 };
    let options = FilmSpeedOptions { origin, ..FilmSpeedOptions::default() };
    let clock = fit_film_clock(&marks(&frames, 0.02), 100.0, &options).unwrap();
    assert!(clock.time_s(12.0).0.abs() < 1e-15 && clock.time_s(12.0).1 < 1e-9);
    assert!((clock.time_s(22.0).0 - 0.02).abs() < 1e-9);
}
