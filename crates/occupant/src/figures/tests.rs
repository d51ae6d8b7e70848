//! Closed forms of constant decelerations and half-sines, and first-order propagation of their doubts.

use super::*;
use filmgauge_quantities::STANDARD_GRAVITY_M_S2 as G;

fn axis(n: usize, value: impl Fn(f64) -> f64) -> SevereAxis {
    let values = (0..n).map(|i| value(-0.6 + i as f64 * 1e-4)).collect();
    SevereAxis { values, zero_u: 0.0, calibration_u: 0.0, noise: Vec::new() }
}

fn constant(x_g: f64, y_g: Option<f64>) -> SevereRecord {
    let step = |g: f64| move |t: f64| if t > -5e-5 && t < 0.3 { g * G } else { 0.0 };
    SevereRecord {
        start_s: -0.6,
        step_s: 1e-4,
        contact_s: (0.0, 0.0),
        x: axis(15_001, step(x_g)),
        y: y_g.map(|g| axis(15_001, step(g))),
        z: None,
        yaw: None,
    }
}

fn value(figures: &[OccupantFigure], name: &str) -> (f64, f64) {
    let figure = figures.iter().find(|figure| figure.name == name).unwrap();
    let (value, budget) = figure.value.as_ref().unwrap();
    (*value, budget.iter().map(|(_, u)| u * u).sum::<f64>().sqrt())
}

/// Closed forms of a constant deceleration, computed: t = √(2 d / A), v = √(2 d A); two axes, the first strike ends both.
#[test]
fn constant_decelerations_give_the_closed_forms() {
    let options = FigureOptions::default();
    let one = occupant_figures(&constant(-10.0, None), &options).unwrap();
    assert!((value(&one, "occupant_impact_velocity").0 - 10.848_032).abs() < 1e-4);
    assert!((value(&one, "occupant_impact_time").0 - 0.110_619).abs() < 1e-5);
    assert!((value(&one, "ridedown_acceleration").0 - 10.0 * G).abs() < 1e-6);
    assert!((value(&one, "head_impact_velocity").0 - 39.052_9 / 3.6).abs() < 1e-4);
    assert!((value(&one, "head_deceleration").0 - 10.0 * G).abs() < 1e-6);
    assert!((value(&one, "mean_50ms").0 + 10.0 * G).abs() < 1e-6);
    assert!(one.iter().all(|figure| !figure.name.contains("sideways")), "{one:?}");
    let two = occupant_figures(&constant(-10.0, Some(-6.0)), &options).unwrap();
    assert!((value(&two, "occupant_impact_velocity").0 - 9.902_853).abs() < 1e-3);
    assert!((value(&two, "occupant_impact_velocity_sideways").0 - 5.941_712).abs() < 1e-3);
    assert!((value(&two, "occupant_impact_velocity_alone").0 - 10.848_032).abs() < 1e-4);
    assert!((value(&two, "occupant_impact_velocity_sideways_alone").0 - 5.941_712).abs() < 1e-3);
}

/// First-order propagation in closed form: v = √(2 d A), so a zero of b moves it by d/v · b... = b √(d / 2 A), a calibration of c by
/// c v / 2; the instant of contact moves the strike with it.
#[test]
fn uncertainties_follow_the_closed_forms() {
    let mut record = constant(-10.0, None);
    (record.x.zero_u, record.x.calibration_u, record.contact_s.1) = (0.5, 0.01, 0.0);
    let options = FigureOptions { n_draws: 2000, ..FigureOptions::default() };
    let figures = occupant_figures(&record, &options).unwrap();
    let (v, u) = value(&figures, "occupant_impact_velocity");
    let by_zero = 0.5 * (0.6 / (2.0 * 10.0 * G)).sqrt();
    let expected = by_zero.hypot(0.005 * v);
    assert!((u / expected - 1.0).abs() < 0.06, "{u} {expected}");
    let figure = figures.iter().find(|figure| figure.name == "severity_index").unwrap();
    let (asi, budget) = figure.value.as_ref().unwrap();
    let calibration = budget.iter().find(|(source, _)| *source == "sensor calibration").unwrap().1;
    assert!((calibration / (0.01 * asi) - 1.0).abs() < 0.06, "{calibration} {asi}");
}

fn half_sine(level_g: f64, length_s: f64) -> SevereAxis {
    axis(15_001, |t| {
        let inside = (0.0..length_s).contains(&t);
        if inside { level_g * G * (std::f64::consts::PI * t / length_s).sin() } else { 0.0 }
    })
}

/// The mean of a half-sine of level A and length T over a window w in its middle is A 2T/(πw) sin(πw/2T): 50 and 10 ms (closed form,
/// computed).
#[test]
fn means_of_half_sines_follow_the_closed_form() {
    for (level_g, length_s, mean_50_g, mean_10_g) in
        [(20.0, 0.1, 18.006_33, 19.917_855), (15.0, 0.15, 14.323_94, 14.972_599)]
    {
        let record = SevereRecord { x: half_sine(-level_g, length_s), ..constant(-10.0, None) };
        let figures = occupant_figures(&record, &FigureOptions::default()).unwrap();
        for (name, mean_g) in [("mean_50ms", mean_50_g), ("mean_10ms", mean_10_g)] {
            assert!(
                (value(&figures, name).0 / G + mean_g).abs() < 2e-4,
                "{name} {:?}",
                value(&figures, name)
            );
        }
    }
}

/// The 50 ms mean of a half-sine of 20 g and 100 ms is 18.006 g, its 10 ms mean 19.918 g (closed forms, computed).
#[test]
fn means_of_a_half_sine_and_noise_in_the_budget() {
    let mut record = constant(-10.0, None);
    record.x = half_sine(-20.0, 0.1);
    record.x.noise = (0..500).map(|i| if i % 7 < 3 { 1.0 } else { -0.75 }).collect();
    record.contact_s.1 = 0.001;
    let figures = occupant_figures(&record, &FigureOptions::default()).unwrap();
    assert!((value(&figures, "mean_50ms").0 / G + 18.006_33).abs() < 2e-3);
    assert!((value(&figures, "mean_10ms").0 / G + 19.917_855).abs() < 2e-3);
    let figure = figures.iter().find(|figure| figure.name == "occupant_impact_time").unwrap();
    let sources: Vec<&str> = figure.value.as_ref().unwrap().1.iter().map(|(source, _)| *source).collect();
    assert_eq!(sources, ["contact time", "sensor noise"]);
    assert_eq!(figures, occupant_figures(&record, &FigureOptions::default()).unwrap());
}

#[test]
fn what_the_record_cannot_give_has_a_reason_and_bad_records_are_refused() {
    let mut soft = constant(-0.1, None);
    let figures = occupant_figures(&soft, &FigureOptions::default()).unwrap();
    for name in ["occupant_impact_time", "ridedown_acceleration", "head_impact_velocity"] {
        assert!(figures.iter().any(|figure| figure.name == name && figure.value.is_err()), "{name}");
    }
    soft.y = Some(axis(10, |_| 0.0));
    assert!(matches!(
        occupant_figures(&soft, &FigureOptions::default()),
        Err(OccupantFailure::Lengths { what: "acceleration y", .. })
    ));
    let few = FigureOptions { n_draws: 3, ..FigureOptions::default() };
    assert!(matches!(occupant_figures(&constant(-1.0, None), &few), Err(OccupantFailure::Settings { .. })));
    let mut late = constant(-10.0, None);
    late.contact_s.0 = 5.0;
    assert!(occupant_figures(&late, &FigureOptions::default()).is_err());
}

/// A motion drawn with a common factor: every figure of a constant deceleration follows it, v = √(2 d A) by half (closed form, computed).
#[test]
fn drawn_motions_give_the_doubt_of_their_source() {
    let stated = constant(-10.0, None);
    let drawn = |source: usize, normal: &mut dyn FnMut() -> f64| {
        let mut other = stated.clone();
        if source == 1 {
            let factor = 1.0 + 0.02 * normal();
            other.x.values.iter_mut().for_each(|value| *value *= factor);
        }
        other
    };
    let options = FigureOptions { n_draws: 1500, ..FigureOptions::default() };
    let figures = figures_by_draws(&stated, &["nothing", "scale"], drawn, &options).unwrap();
    for (name, share) in [("occupant_impact_velocity", 0.01), ("mean_50ms", 0.02), ("severity_index", 0.02)] {
        let figure = figures.iter().find(|figure| figure.name == name).unwrap();
        let (value, budget) = figure.value.as_ref().unwrap();
        assert_eq!(budget[0], ("nothing", 0.0));
        assert!((budget[1].1 / (share * value.abs()) - 1.0).abs() < 0.06, "{name}: {budget:?} of {value}");
    }
    let broken =
        |_: usize, _: &mut dyn FnMut() -> f64| SevereRecord { step_s: f64::NAN, ..constant(-10.0, None) };
    assert!(figures_by_draws(&stated, &["a"], broken, &options).is_err());
}
