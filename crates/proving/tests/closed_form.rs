//! The motion against closed forms: constant cushion force, momentum and energy.

#![expect(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use filmgauge_proving::{Scene, Truth, simulate};

/// Car 2000 kg at 100 km/h, truck 9000 kg at rest, constant 200 kN, drag 0.2 of the truck's weight, no restitution.
const CONSTANT_FORCE: &str = r#"
id = "closed-form"
title = "Constant force"
before_s = 0.1
after_s = 4.0
[car]
mass_kg = 2000.0
speed_km_h = 100.0
cg_height_m = 0.5
nose_m = 2.0
pitch_inertia_kg_m2 = 3000.0
[cushion]
length_m = 4.0
plateau_n = 200e3
[truck]
mass_kg = 9000.0
cg_x_m = 8.0
cg_height_m = 1.0
drag = 0.2
"#;

const SOFT: &str = r#"
id = "soft"
title = "Front and cushion in series"
before_s = 0.1
after_s = 0.4
[car]
mass_kg = 1180.0
speed_km_h = 52.0
cg_height_m = 0.54
nose_m = 1.85
pitch_inertia_kg_m2 = 1500.0
[front]
loading_n_per_m = 5e5
unloading_n_per_m = 4e6
[cushion]
length_m = 1.5
plateau_n = 9e4
rise_m = 0.08
hardening_n_per_m = 4e4
unloading_n_per_m = 1e7
[truck]
mass_kg = 9400.0
cg_x_m = 5.0
cg_height_m = 1.2
drag = 0.0
"#;

fn truth(text: &str) -> (Scene, Truth) {
    let scene = Scene::from_toml(text).unwrap();
    let truth = simulate(&scene).unwrap();
    (scene, truth)
}

fn close(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
}

/// Computed from the stated closed form: constant deceleration of both masses until their speeds meet,
/// then one common deceleration by the drag; all digits printed there.
#[test]
fn constant_force_follows_the_closed_form_to_its_printed_digits() {
    let (_, truth) = truth(CONSTANT_FORCE);
    for (t, car_s, car_v, truck_s, truck_v, stroke) in [
        (0.05, 1.263_889, 22.777_778, 0.025_326, 1.013_045, 1.238_563),
        (0.10, 2.277_778, 17.777_778, 0.101_304, 2.026_089, 2.176_473),
        (0.15, 3.041_667, 12.777_778, 0.227_935, 3.039_134, 2.813_732),
        (0.20, 3.555_556, 7.777_778, 0.405_218, 4.052_178, 3.150_338),
    ] {
        let now = truth.at(t);
        close(now.car.x_m + 2.0, car_s, 5.1e-7);
        close(now.car.vx_m_s, car_v, 5.1e-7);
        close(now.truck.x_m - 8.0, truck_s, 5.1e-7);
        close(now.truck.vx_m_s, truck_v, 5.1e-7);
        close(now.cushion_stroke_m, stroke, 5.1e-7);
    }
    let early = truth.at(0.1);
    close(early.car.ax_m_s2, -100.0, 1e-9);
    close(early.truck.ax_m_s2, 20.260_892, 5.1e-7);
    let common = truth.at(0.230_979_309);
    close(common.car.vx_m_s, 4.679_846_884, 1e-7);
    close(common.car.x_m + 2.0, 3.748_519_857, 5e-9);
    close(common.truck.x_m - 8.0, 0.540_473_900, 5e-9);
    close(common.cushion_stroke_m, 3.208_045_957, 5e-9);
    let rolling = truth.at(1.0);
    close(rolling.car.ax_m_s2, -1.604_724_545, 5e-9);
    let moving = truth.at(3.147_272_262 - 1e-6);
    let rest = truth.at(3.147_272_262 + 1e-6);
    assert!(moving.truck.vx_m_s > 1e-6 && rest.truck.vx_m_s == 0.0 && rest.car.vx_m_s == 0.0);
    close(rest.truck.x_m - 8.0, 7.364_376_145, 5e-9);
    assert!(truth.separation_s.is_none());
}

/// Computed from the stated closed form: 771604.94 J = 641609.19 (cushion) + 120455.32 + 9540.43 (drag so far);
/// the rolling energy then goes into drag too.
#[test]
fn constant_force_energy_adds_up() {
    let (_, truth) = truth(CONSTANT_FORCE);
    let (crush_j, drag_j) = truth.final_work_j();
    close(crush_j, 641_609.19, 0.01);
    close(drag_j, 120_455.32 + 9_540.43, 0.011);
}

#[test]
fn momentum_and_energy_are_kept_by_front_and_cushion_in_series() {
    let (scene, truth) = truth(SOFT);
    let v0 = scene.car.speed_km_h / 3.6;
    let (m1, m2) = (scene.car.mass_kg, scene.truck.mass_kg);
    for step in 0..40 {
        let now = truth.at(f64::from(step) * 0.01);
        close(m1 * now.car.vx_m_s + m2 * now.truck.vx_m_s, m1 * v0, 1e-6);
        close(
            now.cushion_stroke_m + now.front_crush_m,
            if truth.separation_s.is_some_and(|s| now.t_s > s) {
                now.cushion_stroke_m + now.front_crush_m
            } else {
                now.car.x_m + 1.85 - (now.truck.x_m - 5.0)
            },
            1e-6,
        );
    }
    let end = truth.at(0.4);
    let kinetic = 0.5 * (m1 * end.car.vx_m_s.powi(2) + m2 * end.truck.vx_m_s.powi(2));
    let (crush_j, _) = truth.final_work_j();
    close(kinetic + crush_j, 0.5 * m1 * v0 * v0, 1e-3);
    assert!(truth.separation_s.is_some() && end.truck.vx_m_s > end.car.vx_m_s);
}

/// A tether takes up what the truck loses, and gives it back: kinetic energy, tether, crush and drag add up to what came in.
#[test]
fn a_tethered_truck_comes_back_and_its_energy_adds_up() {
    let (mut scene, _) = truth(SOFT);
    let (slack_m, n_per_m) = (0.05, 400e3);
    scene.truck.drag = 0.05;
    scene.truck.tether = Some(filmgauge_proving::Tether { slack_m, n_per_m });
    scene.after_s = 1.5;
    let truth = filmgauge_proving::simulate(&scene).unwrap();
    let at_rest = truth.at(truth.contact_s).truck.x_m;
    let travel = |t_s: f64| truth.at(t_s).truck.x_m - at_rest;
    let most = (0..150).map(|i| travel(f64::from(i) * 0.01)).fold(0.0, f64::max);
    let end = truth.at(truth.end_s);
    println!("farthest {most:.3} m, at the end {:.3} m", travel(truth.end_s));
    assert!(most > 2.0 * slack_m && travel(truth.end_s) < 0.5 * most);
    let v0 = scene.car.speed_km_h / 3.6;
    let (m1, m2) = (scene.car.mass_kg, scene.truck.mass_kg);
    let kinetic = 0.5 * (m1 * end.car.vx_m_s.powi(2) + m2 * end.truck.vx_m_s.powi(2));
    let stored = 0.5 * n_per_m * (travel(truth.end_s) - slack_m).max(0.0).powi(2);
    let (crush_j, drag_j) = truth.final_work_j();
    close(kinetic + stored + crush_j + drag_j, 0.5 * m1 * v0 * v0, 1.0);
}

#[test]
fn rates_are_the_derivatives_of_places() {
    let (_, truth) = truth(SOFT);
    let h = 1e-5;
    for step in 1..9 {
        let t = f64::from(step) * 0.01 + 0.000_013;
        let (before, now, after) = (truth.at(t - h), truth.at(t), truth.at(t + h));
        close((after.car.x_m - before.car.x_m) / (2.0 * h), now.car.vx_m_s, 1e-5);
        close((after.car.vx_m_s - before.car.vx_m_s) / (2.0 * h), now.car.ax_m_s2, 0.02);
        close((after.front_crush_m - before.front_crush_m) / (2.0 * h), now.front_crush_rate_m_s, 1e-3);
    }
    let before = truth.at(-0.02);
    close(before.car.x_m, -1.85 - 0.02 * 52.0 / 3.6, 1e-12);
    assert!(before.car.ax_m_s2 == 0.0 && before.car.pitch_rad == 0.0);
}

#[test]
fn scenes_out_of_range_are_refused_with_their_place() {
    for (from, to, place) in [
        ("mass_kg = 1180.0", "mass_kg = -1.0", "car.mass_kg"),
        ("rise_m = 0.08", "rise_m = nan", "cushion.rise_m"),
        ("unloading_n_per_m = 4e6", "unloading_n_per_m = 1e5", "front.unloading_n_per_m"),
        ("before_s = 0.1", "before_s = 0.1\nspeling = 1", "speling"),
        ("after_s = 0.4", "after_s = 1e9", "after_s"),
        ("before_s = 0.1", "before_s = 0.1\nclimb_point = \"Q9\"", "Q9"),
    ] {
        let message = Scene::from_toml(&SOFT.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(message.contains(place), "{message}");
    }
    assert!(Scene::read(std::path::Path::new("no-such-scene.toml")).is_err());
}
