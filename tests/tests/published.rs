//! Published pulses and closed forms through the sensors' and the occupant's own functions.
#![expect(clippy::unwrap_used, reason = "a test stops where its set-up fails")]

use filmgauge_motion::Collision;
use filmgauge_occupant::{FlailOptions, flail_from_acceleration};
use filmgauge_quantities::{STANDARD_GRAVITY_M_S2, Speed};
use filmgauge_sensors::{Channel, integrate};
use std::path::PathBuf;

/// A record of `shape` from 0 to `length_s` in `n` steps, m/s².
fn record(length_s: f64, n: u32, shape: impl Fn(f64) -> f64) -> Channel {
    let step_s = length_s / f64::from(n);
    Channel {
        code: "pulse".into(),
        unit: "m/s2".into(),
        start_s: 0.0,
        step_s,
        values: (0..=n).map(|i| shape(f64::from(i) * step_s)).collect(),
        file: PathBuf::new(),
        comments: Vec::new(),
        steps: Vec::new(),
    }
}

fn last(channel: &Channel) -> f64 {
    *channel.values.last().unwrap()
}

#[test]
fn constant_deceleration_stops_in_the_closed_form_distance() {
    // Computed from the stated closed forms t = v/a and s = v²/(2a).
    let cases = [
        (27.7778, 10.0, 3.934_097, 0.283_255),
        (27.7778, 20.0, 1.967_048, 0.141_627),
        (15.6464, 15.0, 0.832_122, 0.106_365),
        (13.4112, 20.0, 0.458_516, 0.068_378),
    ];
    for (speed_m_s, g, distance_m, stop_s) in cases {
        let a_m_s2 = g * STANDARD_GRAVITY_M_S2;
        assert!((speed_m_s / a_m_s2 - stop_s).abs() < 1e-6, "{g} g stops in {} s", speed_m_s / a_m_s2);
        let speed = integrate(&record(speed_m_s / a_m_s2, 1000, |_| -a_m_s2), speed_m_s).unwrap();
        assert!(last(&speed).abs() < 1e-9);
        let travel = integrate(&speed, 0.0).unwrap();
        assert!((last(&travel) - distance_m).abs() < 2e-6, "{g} g: {} m", last(&travel));
    }
}

#[test]
fn regulation_pulses_give_their_speed_change() {
    // Speed change of a symmetric triangle, computed from A T / 2; peaks and rise times of 14 CFR 25.562 and 23.562.
    let cases = [(14.0, 0.08, 36.03), (16.0, 0.09, 46.33), (19.0, 0.05, 30.57), (15.0, 0.06, 28.96)];
    for (peak_g, rise_s, change_ft_s) in cases {
        let peak_m_s2 = peak_g * STANDARD_GRAVITY_M_S2;
        let triangle = record(2.0 * rise_s, 2000, |t_s| peak_m_s2 * (1.0 - (t_s / rise_s - 1.0).abs()));
        let change = Speed::from_m_s(last(&integrate(&triangle, 0.0).unwrap()));
        assert!((change.as_ft_s() - change_ft_s).abs() < 0.006, "{peak_g} g: {} ft/s", change.as_ft_s());
    }
}

#[test]
fn a_constant_cushion_force_gives_the_closed_form_occupant_figures() {
    // 200 kN on a 2000 kg car: a = 100 m/s², t* = sqrt(1.2 / a), speed = sqrt(1.2 a), computed from the stated formula.
    let flail = flail_from_acceleration(0.0, 1e-4, &[100.0; 2310], None, &FlailOptions::default()).unwrap();
    assert!((flail.impact_time_s.unwrap() - 0.109_544_512).abs() < 1e-8);
    assert!((flail.impact_velocity_x_m_s - 10.954_451_150).abs() < 1e-6);
    assert!((flail.ridedown_x_m_s2.unwrap() / STANDARD_GRAVITY_M_S2 - 10.197_162).abs() < 1e-6);
}

/// Plausibility only: tests of lorry-mounted cushions reported in FHWA acceptance letters (2002 to 2005), whose records are not at hand. A
/// pickup of 2000 kg meets a standing lorry; the speed that both then share is closed form, the drag that stops them in the reported
/// distance is V²/(2 g d), and no occupant can strike faster than the pickup slows down.
#[test]
fn reported_cushion_tests_are_plausible() {
    // Letter and test; speed km/h, lorry kg, roll-ahead m, reported impact velocity m/s; shared speed m/s, change m/s, drag over weight.
    let rows = [
        ("CC-34B 3-52", 100.0, 9000.0, 5.3, Some(7.2), 5.0505, 22.7273, 0.245),
        ("CC-36C 3-52", 100.0, 8736.0, 8.4, Some(11.8), 5.1747, 22.6031, 0.163),
        ("CC-64E 2-51", 67.4, 8595.6, 3.9, Some(9.4), 3.5340, 15.1883, 0.163),
        ("CC-64F 2-52", 67.1, 9003.8, 3.3, Some(10.5), 3.3877, 15.2512, 0.177),
        ("CC-64F 2-53", 67.0, 9003.8, 3.2, Some(10.0), 3.3827, 15.2284, 0.182),
        ("CC-83 1-51", 50.0, 8595.0, 1.1, None, 2.6218, 11.2671, 0.319),
    ];
    for (test, speed_km_h, struck_kg, roll_m, impact_m_s, shared_m_s, change_m_s, drag) in rows {
        let striking_m_s = speed_km_h / 3.6;
        let meeting = Collision { striking_kg: 2000.0, struck_kg, striking_m_s, struck_m_s: 0.0 };
        let stuck = meeting.outcome(0.0).unwrap();
        assert!((meeting.common_speed_m_s().unwrap() - shared_m_s).abs() < 6e-5, "{test}");
        assert!((stuck.striking_change_m_s + change_m_s).abs() < 6e-5, "{test}");
        let found = shared_m_s * shared_m_s / (2.0 * STANDARD_GRAVITY_M_S2 * roll_m);
        assert!((found - drag).abs() < 6e-4 && (0.1..0.4).contains(&found), "{test}: {found}");
        assert!(impact_m_s.is_none_or(|impact: f64| impact < -stuck.striking_change_m_s), "{test}");
    }
}

/// Plausibility only: a pickup that met a pole broadside (FHWA, FOIL report) has a reported impact velocity to the side of 10.2 m/s.
/// Over 0.3 m that is a mean of v²/(2 d) = 17.7 g, and with a constant pulse the strike is at 0.0588 s (closed forms, computed); the
/// report's window of the head injury, 48.8 to 54.6 ms, lies just before.
#[test]
fn a_reported_pole_test_is_plausible() {
    let level_m_s2 = 10.2_f64.powi(2) / (2.0 * 0.3);
    assert!((level_m_s2 - 173.4).abs() < 1e-9 && (level_m_s2 / STANDARD_GRAVITY_M_S2 - 17.7).abs() < 0.05);
    let side = vec![level_m_s2; 2000];
    let flail =
        flail_from_acceleration(0.0, 1e-4, &vec![0.0; 2000], Some(&side), &FlailOptions::default()).unwrap();
    assert!((flail.impact_time_s.unwrap() - 0.0588).abs() < 5e-5);
    assert!((flail.impact_velocity_y_m_s.unwrap() - 10.2).abs() < 1e-6);
}
