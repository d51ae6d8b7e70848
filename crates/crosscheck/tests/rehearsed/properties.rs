//! What must hold for any channel: its polarity turned, its clock shifted, its reading stretched show as just that.

use crate::scene::{Planted, SOUND, Scene, USUAL};
use filmgauge_crosscheck::{CrosscheckOptions, SensedAxis, crosscheck};

#[test]
fn polarity_shift_and_gain_show_as_what_they_are() {
    let scene = Scene::new(SensedAxis::X, 1.0);
    // The noise of the stretch before contact counts as measured, so that all four weigh the film alike.
    let options = CrosscheckOptions { sensor_noise_m2_s3: Some(1e-5), ..CrosscheckOptions::default() };
    for seed in 0..6 {
        let (film, own) = scene.run(Planted { offset_m_s2: 0.4, ..SOUND }, USUAL, 8000 + seed);
        let check = |channel: &_| crosscheck(&film, channel, SensedAxis::X, &options).unwrap();
        let stated = check(&own);
        let (gain, lag) = (stated.gain.unwrap(), stated.lag_s.unwrap());

        let mut turned = own.clone();
        turned.values.iter_mut().for_each(|value| *value = -*value);
        let found = check(&turned);
        assert!((found.gain.unwrap().value + gain.value).abs() < 1e-5, "{found:?}");
        assert!((found.offset_m_s2.value + stated.offset_m_s2.value).abs() < 1e-3, "{found:?}");
        turned.values.iter_mut().for_each(|value| *value = -*value);
        assert_eq!(check(&turned), stated);

        let mut late = own.clone();
        late.start_s += 0.002;
        let found = check(&late);
        assert!((found.lag_s.unwrap().value - lag.value - 0.002).abs() < 2e-5, "{found:?}");

        let mut large = own.clone();
        large.values.iter_mut().for_each(|value| *value *= 1.5);
        let found = check(&large);
        assert!((found.gain.unwrap().value / gain.value - 1.5).abs() < 1e-5, "{found:?}");
    }
}
