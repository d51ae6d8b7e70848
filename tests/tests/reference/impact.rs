//! A whole impact with a closed form, as film data through the whole chain: car, cushion and truck under a constant force.
//!
//! Car 2000 kg at 100 km/h, truck 9000 kg at rest, cushion 200 kN, ground drag 0.2 of the truck's weight, no restitution; the
//! table is computed from these. Marks: 2.5 mm/px in the board's plane, car targets 0.9 m nearer at 15 m, 1000 frames/s, 0.3 px
//! of noise.

use anyhow::{Context, Result};
use filmgauge_dossier::{Dossier, RunOptions, Unwatched};
use filmgauge_motion::{NoiseSource, run_up_speed};
use filmgauge_results::{Finding, Results};
use filmgauge_tests::accuracy::findings::Blank;
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::fmt::Write;

const PX_PER_M: f64 = 400.0;
const DISTANCE_M: f64 = 15.0;
const NEARER_M: f64 = 0.9;
const NOISE_PX: f64 = 0.3;
const FRAMES: u32 = 420;
const CONTACT_FRAME: u32 = 60;
const SIZE_PX: (usize, usize) = (5400, 320);

/// Places of car and truck since contact, m.
fn places(t: f64) -> [f64; 2] {
    let drag = 0.2 * 9000.0 * 9.806_65;
    let (a1, a2, v0) = (200e3 / 2000.0, (200e3 - drag) / 9000.0, 27.777_778);
    let common = v0 / (a1 + a2);
    let s = t.clamp(0.0, common);
    let roll = (t - common).max(0.0);
    let rolled = a2 * common * roll - 0.5 * drag / 11_000.0 * roll * roll;
    [v0 * t.min(0.0) + v0 * s - 0.5 * a1 * s * s + rolled, 0.5 * a2 * s * s + rolled]
}

/// Target, body, place on it from the reference point (m), offset of its plane (m), start of the body (m).
const TARGETS: [(&str, &str, [f64; 2], f64, f64); 4] = [
    ("C1", "car", [-1.2, 0.0], NEARER_M, -3.0),
    ("C2", "car", [1.2, 0.1], NEARER_M, -3.0),
    ("T1", "truck", [-1.0, 0.0], 0.0, 3.5),
    ("T2", "truck", [1.0, 0.1], 0.0, 3.5),
];

fn pixel(target: &(&str, &str, [f64; 2], f64, f64), frame: u32) -> [f64; 2] {
    let moved = places((f64::from(frame) - f64::from(CONTACT_FRAME)) * 1e-3);
    let x_m = target.4 + target.2[0] + if target.1 == "car" { moved[0] } else { moved[1] };
    let larger = PX_PER_M * DISTANCE_M / (DISTANCE_M - target.3);
    [2700.0 + larger * x_m, 200.0 - larger * target.2[1]]
}

fn measured(stated_offset_m: f64) -> Result<Results> {
    let folder = tempfile::tempdir()?;
    let root = folder.path();
    for sub in ["footage", "picks"] {
        std::fs::create_dir_all(root.join(sub))?;
    }
    std::fs::copy(Blank::new()?.film(SIZE_PX.0, SIZE_PX.1, FRAMES)?, root.join("footage/side.mkv"))?;
    let mut random = Xoshiro256PlusPlus::seed_from_u64(106);
    let noise = Normal::new(0.0, NOISE_PX)?;
    let mut text = format!(
        "schema = 1\n[test]\nid = \"HB-106\"\ntitle = \"Constant force\"\ncontact = \"zero\"\n[[camera]]\nid = \"side\"\n\
         footage = \"footage/side.mkv\"\nspeed = {{ frames_per_s = 1000.0, source = \"stated\" }}\nexposure_s = 0.0\n\
         zero = {{ by = \"frame\", frame = {CONTACT_FRAME}.0, uncertainty_s = 1e-6 }}\n\
         board = {{ from_px = [1800.0, 300.0], to_px = [2600.0, 300.0], length_m = 2.0, uncertainty_m = 0.0, \
         uncertainty_px = 0.0, distance_m = {DISTANCE_M:?} }}\n"
    );
    let mut picks = String::from("frame,target,x_px,y_px,sx_px,sy_px\n");
    for target in &TARGETS {
        let [x, y] = pixel(target, 0);
        let offset_m = if target.1 == "car" { stated_offset_m } else { 0.0 };
        let _ = writeln!(
            text,
            "[[target]]\ncamera = \"side\"\nid = {:?}\nkind = \"quadrant\"\nbody = {:?}\nstart = {{ frame = 0, px = [{x:.1}, \
             {y:.1}] }}\nradius_px = 20.0\nplane_offset_m = {offset_m:?}",
            target.0, target.1
        );
        for frame in 0..FRAMES {
            let [x, y] = pixel(target, frame);
            let (x, y) = (x + noise.sample(&mut random), y + noise.sample(&mut random));
            let _ = writeln!(picks, "{frame},{},{x:.4},{y:.4},{NOISE_PX},{NOISE_PX}", target.0);
        }
    }
    text.push_str(
        "[[body]]\nid = \"car\"\nrole = \"striking\"\nmass_kg = 2000.0\n[[body]]\nid = \"truck\"\nrole = \"struck\"\nmass_kg = 9000.0\n",
    );
    std::fs::write(root.join("dossier.toml"), text)?;
    std::fs::write(root.join("picks/side.csv"), picks)?;
    Ok(filmgauge_dossier::measure(&Dossier::read(root)?, &RunOptions::default(), &Unwatched)?)
}

fn finding<'a>(results: &'a Results, name: &str) -> Result<&'a Finding> {
    results.findings.iter().find(|it| it.name == name).with_context(|| format!("no finding {name}"))
}

/// Within three standard uncertainties: a few dozen figures are looked at together.
#[expect(clippy::print_stdout, reason = "figures to look at beside their truth")]
fn near(what: &str, value: f64, u: f64, truth: f64) {
    println!("{what}: {value:.5} against {truth:.5}, u {u:.5}");
    assert!((value - truth).abs() <= 3.0 * u, "{what}: {value} against {truth}, u {u}");
}

#[test]
fn the_closed_form_comes_back_from_its_own_film() -> Result<()> {
    let results = measured(NEARER_M)?;
    for (name, truth) in [
        ("contact_speed", 27.777_778),
        ("closing_speed", 27.777_778),
        ("occupant_impact_velocity", 10.954_451),
        ("occupant_impact_time", 0.109_544_5),
        ("momentum_closure", 0.0),
        ("drag_force", 17_651.97),
        ("absorbed_energy", 641_609.19),
        ("deceleration_50ms", 100.0),
    ] {
        let it = finding(&results, name)?;
        near(name, it.value.context("a value")?, it.uncertainty.context("a ±")?, truth);
    }
    // Time, car s, car v, truck s, truck v.
    for row in [
        [0.05, 1.263_889, 22.777_778, 0.025_326, 1.013_045],
        [0.10, 2.277_778, 17.777_778, 0.101_304, 2.026_089],
        [0.15, 3.041_667, 12.777_778, 0.227_935, 3.039_134],
        [0.20, 3.555_556, 7.777_778, 0.405_218, 4.052_178],
    ] {
        for (body, place, speed) in [("car", row[1], row[2]), ("truck", row[3], row[4])] {
            let at = |time_s: f64| {
                let rows = results.motion.iter().filter(|it| it.body == body);
                rows.min_by(|a, b| (a.time_s - time_s).abs().total_cmp(&(b.time_s - time_s).abs()))
            };
            let (start, now) = (at(0.0).context("contact")?, at(row[0]).context("the instant")?);
            let (from, to) = (start.x_m.zip(start.u_x_m), now.x_m.zip(now.u_x_m));
            let ((from, from_u), (to, to_u)) = from.zip(to).context("places")?;
            near(&format!("{body} s at {}", row[0]), to - from, from_u.hypot(to_u), place);
            let (v, u) = now.vx_m_s.zip(now.u_vx_m_s).context("speeds")?;
            near(&format!("{body} v at {}", row[0]), v, u, speed);
        }
    }
    // 641609.19 J in the cushion, 120455.32 J at the common speed, 9540.43 J of drag: 771604.94 J before.
    let total: f64 = [641_609.19, 120_455.32, 9_540.43].iter().sum();
    assert!((total - 0.5 * 2000.0 * 27.777_778_f64.powi(2)).abs() < 0.05);
    Ok(())
}

#[test]
fn without_the_plane_offset_the_speed_reads_high_by_its_share() -> Result<()> {
    let results = measured(0.0)?;
    let it = finding(&results, "contact_speed")?;
    let high = it.value.context("a value")? / 27.777_778 - 1.0;
    near("uncorrected", high, it.uncertainty.context("a ±")? / 27.777_778, 0.063_83);
    let notice = results.notices.iter().find(|it| it.text.contains("does not close"));
    let notice = notice.context("momentum must not close")?;
    println!("{}", notice.text);
    Ok(())
}

/// Free fall, 9.80665 m/s² by definition (ISO 80000-3), seen at 2.5 mm/px with 0.3 px of noise for 0.3 s.
#[test]
fn free_fall_lies_within_its_band() -> Result<()> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(9);
    let u_m = NOISE_PX / PX_PER_M;
    let noise = Normal::new(0.0, u_m)?;
    let times_s: Vec<f64> = (0..300).map(|frame| f64::from(frame) * 1e-3).collect();
    let mut inside = 0;
    for _ in 0..200 {
        let places: Vec<_> = times_s
            .iter()
            .map(|&t| Some((0.5 * 9.806_65 * t * t + noise.sample(&mut random), u_m * u_m)))
            .collect();
        // The straight line does not fit, which widens its own band; the parabola's is that of the marks.
        let fall = run_up_speed(&times_s, &places, 0.0, 1.0, NoiseSource::Stated)?.acceleration;
        let fall = fall.context("an acceleration")?;
        inside += u32::from((fall.value.as_m_s2() - 9.806_65).abs() <= 1.96 * fall.u.as_m_s2());
    }
    println!("free fall inside 95 %: {inside} of 200");
    assert!((180..=199).contains(&inside), "{inside}");
    Ok(())
}
