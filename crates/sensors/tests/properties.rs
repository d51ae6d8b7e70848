//! What must hold for any record: filtering and integrating are linear, a shift of the clock shifts everything, what is written comes back.

use filmgauge_sensors::{
    CfcClass, Channel, Interpolation, StartRule, cfc, integrate, read, remove_zero, write_csv,
};
use proptest::prelude::*;
use std::path::PathBuf;

fn channel(start_s: f64, values: Vec<f64>) -> Channel {
    Channel {
        code: "ax".to_owned(),
        unit: "m/s2".to_owned(),
        start_s,
        step_s: 1e-3,
        values,
        file: PathBuf::new(),
        comments: Vec::new(),
        steps: Vec::new(),
    }
}

fn records() -> impl Strategy<Value = Vec<f64>> {
    proptest::collection::vec(-1e4_f64..1e4, 20..120)
}

proptest! {
    #[test]
    fn a_polarity_turned_twice_is_the_record_and_filters_follow_the_sign(values in records()) {
        let turned: Vec<f64> = values.iter().map(|value| -value).collect();
        let again: Vec<f64> = turned.iter().map(|value| -value).collect();
        prop_assert_eq!(&again, &values);
        let filtered = |values: &[f64]| cfc(values, 1000.0, CfcClass::Cfc60, StartRule::default()).unwrap();
        for (one, other) in filtered(&values).iter().zip(filtered(&turned)) {
            prop_assert!((one + other).abs() < 1e-9 * 1e4);
        }
    }

    #[test]
    fn a_constant_passes_the_filter_and_drops_out_with_the_zero(values in records(), level in -1e3_f64..1e3) {
        let raised: Vec<f64> = values.iter().map(|value| value + level).collect();
        let filtered = |values: &[f64]| cfc(values, 1000.0, CfcClass::Cfc60, StartRule::default()).unwrap();
        for (one, other) in filtered(&values).iter().zip(filtered(&raised)) {
            prop_assert!((other - one - level).abs() < 1e-8 * 1e4);
        }
        let zeroed = |values: &[f64]| remove_zero(&channel(0.0, values.to_vec()), 0.0, 0.015).unwrap().0.values;
        for (one, other) in zeroed(&values).iter().zip(zeroed(&raised)) {
            prop_assert!((one - other).abs() < 1e-8 * 1e4);
        }
    }

    #[test]
    fn a_shifted_clock_shifts_what_is_read_and_leaves_integrals(values in records(), shift_s in -5.0_f64..5.0) {
        let (own, shifted) = (channel(0.0, values.clone()), channel(shift_s, values));
        let (one, other) = (own.at(0.0105, Interpolation::Cubic), shifted.at(shift_s + 0.0105, Interpolation::Cubic));
        prop_assert!((one.unwrap() - other.unwrap()).abs() < 1e-4);
        prop_assert_eq!(integrate(&own, 1.0).unwrap().values, integrate(&shifted, 1.0).unwrap().values);
    }

    #[test]
    fn a_table_comes_back_bit_for_bit(values in records()) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        write_csv(&path, &[channel(-0.01, values.clone())]).unwrap();
        prop_assert_eq!(read(&path, "ax", None).unwrap().values, values);
    }
}
