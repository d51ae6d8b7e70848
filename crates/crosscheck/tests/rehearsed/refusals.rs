//! Input that cannot be compared is answered with a reason.

use crate::scene::{SOUND, Scene, USUAL, channel};
use filmgauge_crosscheck::{CrosscheckFailure, CrosscheckOptions, FilmAtSensor, SensedAxis, crosscheck};
use filmgauge_sensors::Channel;

fn run(film: &FilmAtSensor, channel: &Channel) -> Result<(), CrosscheckFailure> {
    crosscheck(film, channel, SensedAxis::X, &CrosscheckOptions::default()).map(drop)
}

fn sound() -> (FilmAtSensor, Channel) {
    Scene::new(SensedAxis::X, 1.0).run(SOUND, USUAL, 1)
}

#[test]
fn unusable_film_is_named() {
    type Spoil = fn(&mut FilmAtSensor);
    let spoils: [Spoil; 9] = [
        |film| film.times_s.clear(),
        |film| film.times_s[5] = film.times_s[4],
        |film| film.times_s[5] = f64::NAN,
        |film| film.position_m[5] = Some((f64::NAN, 1e-6)),
        |film| film.position_m[5] = Some((0.0, 0.0)),
        |film| film.angle_rad[5] = 1.6,
        |film| film.other_acceleration_m_s2[5] = f64::INFINITY,
        |film| film.gain_relative_u = -0.1,
        |film| film.contact_s = f64::NAN,
    ];
    for (index, spoil) in spoils.iter().enumerate() {
        let (mut film, channel) = sound();
        spoil(&mut film);
        assert!(matches!(run(&film, &channel), Err(CrosscheckFailure::Film { .. })), "{index}");
    }
}

#[test]
fn unusable_channels_are_named() {
    let (film, good) = sound();
    for bad in [
        Channel { unit: "g".to_owned(), ..good.clone() },
        Channel { values: vec![1.0], ..good.clone() },
        Channel { values: vec![f64::NAN; 500], ..good.clone() },
        Channel { values: vec![9.81; 4500], ..good.clone() },
    ] {
        let failure = run(&film, &bad).unwrap_err();
        assert!(matches!(failure, CrosscheckFailure::Channel { .. }), "{failure}");
        assert!(failure.to_string().contains("10CVEHCG0000ACXP"));
    }
}

#[test]
fn records_that_do_not_meet_are_named() {
    let (mut film, channel) = sound();
    let elsewhere = Channel { start_s: 10.0, ..channel.clone() };
    let failure = run(&film, &elsewhere).unwrap_err();
    assert!(matches!(failure, CrosscheckFailure::Overlap { n_frames: 0, .. }), "{failure}");
    assert!(failure.to_string().contains("check time zero"));
    film.position_m.iter_mut().skip(15).for_each(|position| *position = None);
    assert!(matches!(run(&film, &channel), Err(CrosscheckFailure::Overlap { n_frames: 15, .. })));
}

#[test]
fn a_channel_of_noise_never_agrees() {
    let (film, noise) = sound();
    let mut state = 1_u32;
    let values = noise.values.iter().map(|_| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1 << 24) - 0.5
    });
    let noise = channel(noise.start_s, noise.step_s, values.collect());
    match crosscheck(&film, &noise, SensedAxis::X, &CrosscheckOptions::default()) {
        Ok(found) => assert!(found.verdict.starts_with("does not agree: "), "{found:?}"),
        Err(failure) => assert!(matches!(failure, CrosscheckFailure::NotDetermined { .. }), "{failure}"),
    }
}

#[test]
fn settings_out_of_range_are_named() {
    let (film, channel) = sound();
    let usual = CrosscheckOptions::default;
    for options in [
        CrosscheckOptions { gain_limit: 0.0, ..usual() },
        CrosscheckOptions { lag_search_s: f64::NAN, ..usual() },
        CrosscheckOptions { before_contact_s: -1.0, ..usual() },
        CrosscheckOptions { fewest_frames: 2, ..usual() },
        CrosscheckOptions { most_frames: 10, ..usual() },
        CrosscheckOptions { polarity_correlation: 2.0, ..usual() },
        CrosscheckOptions { sensor_noise_m2_s3: Some(-1.0), ..usual() },
    ] {
        let found = crosscheck(&film, &channel, SensedAxis::X, &options);
        assert!(matches!(found, Err(CrosscheckFailure::Settings { .. })), "{options:?}");
    }
}

#[test]
fn a_short_record_and_thinned_frames_still_agree() {
    let (film, long) = sound();
    let from = long.values[800..2900].to_vec();
    let short = Channel { start_s: long.time_s(800), values: from, ..long.clone() };
    for (channel, most_frames) in [(&short, 1000), (&long, 100)] {
        let options = CrosscheckOptions { most_frames, ..CrosscheckOptions::default() };
        let found = crosscheck(&film, channel, SensedAxis::X, &options).unwrap();
        assert!(found.verdict.starts_with("agrees"), "{found:?}");
        assert!(found.n_samples <= most_frames && found.used_to_s <= channel.end_s());
    }
}
