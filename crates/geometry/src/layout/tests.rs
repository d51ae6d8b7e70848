//! Tests of matching a layout: exact views, clutter, missing targets, bad input, and what cannot be told apart.

use super::*;
use proptest::prelude::*;

fn target(id: &str, x_m: f64, z_m: f64) -> Surveyed {
    Surveyed { id: id.to_owned(), kind: Some(TargetKind::Quadrant), at: PlanePoint::new(x_m, z_m) }
}

/// Seven targets without any symmetry.
fn layout() -> Vec<Surveyed> {
    vec![
        target("A", 0.0, 0.3),
        target("B", 1.1, 0.35),
        target("C", 2.3, 0.2),
        target("D", 0.2, 1.1),
        target("E", 1.6, 1.25),
        target("F", 2.9, 0.9),
        target("G", 3.6, 0.4),
    ]
}

/// A camera that looks at the plane at a slant, 8 m away, x to the right or to the left.
fn picture(at: PlanePoint, slant_rad: f64, side: f64) -> PixelPoint {
    let (sin, cos) = slant_rad.sin_cos();
    let (x, depth) = (side * cos * (at.x_m - 1.8), 8.0 + sin * (at.x_m - 1.8));
    PixelPoint::new(960.0 + 2400.0 * x / depth, 540.0 - 2400.0 * (at.z_m - 0.7) / depth)
}

fn seen(place: PixelPoint) -> Seen {
    Seen { place, cov: PixelCov::round(0.05), kind: Some(TargetKind::Quadrant) }
}

/// Places of the layout in an order of their own, with strays between.
fn places(
    slant_rad: f64,
    side: f64,
    missing: &[usize],
    strays: &[(f64, f64)],
) -> (Vec<Seen>, Vec<Option<usize>>) {
    let layout = layout();
    let order = [4, 0, 6, 2, 5, 1, 3];
    let mut found: Vec<(Seen, Option<usize>)> = order
        .iter()
        .filter(|target| !missing.contains(target))
        .map(|&target| (seen(picture(layout[target].at, slant_rad, side)), Some(target)))
        .collect();
    for (k, &(x, y)) in strays.iter().enumerate() {
        found.insert((2 * k).min(found.len()), (seen(PixelPoint::new(x, y)), None));
    }
    found.into_iter().unzip()
}

#[test]
fn a_slanted_view_among_strays_is_told_whichever_way_x_runs() {
    let strays = [(100.0, 900.0), (1500.0, 930.0), (700.0, 300.0), (1240.0, 505.0), (960.0, 880.0)];
    for (slant_rad, side) in [(0.0, 1.0), (0.5, 1.0), (-0.5, 1.0), (0.4, -1.0)] {
        let (seen, truth) = places(slant_rad, side, &[], &strays);
        let found = match_layout(&seen, &layout(), &LayoutOptions::default()).unwrap();
        assert_eq!(found.targets, truth, "{slant_rad} {side}");
        assert!(found.n_matched == 7 && found.n_spare == 6 && found.rms_px < 1e-6, "{found:?}");
    }
}

#[test]
fn missing_targets_stay_without_a_place() {
    let (seen, truth) = places(0.3, 1.0, &[1, 6], &[(1500.0, 930.0), (700.0, 300.0)]);
    let found = match_layout(&seen, &layout(), &LayoutOptions::default()).unwrap();
    assert_eq!(found.targets, truth);
}

#[test]
fn two_targets_are_enough_square_on_when_x_is_known_to_run_right() {
    let options =
        LayoutOptions { model: ViewModel::Similarity, x_runs: XRuns::Right, ..LayoutOptions::default() };
    let two = [target("A", 0.0, 0.3), target("B", 2.0, 0.5)];
    let at = [two[1].at, two[0].at].map(|at| seen(picture(at, 0.0, 1.0)));
    let found = match_layout(&at, &two, &options).unwrap();
    assert_eq!((found.targets, found.n_spare), (vec![Some(1), Some(0)], 0));
    let either = LayoutOptions { x_runs: XRuns::Either, ..options };
    let failure = match_layout(&at, &two, &either).unwrap_err();
    assert!(matches!(failure, LayoutFailure::Ambiguous { .. }), "{failure}");
}

#[test]
fn a_layout_that_is_its_own_mirror_image_is_not_guessed() {
    let square = [target("A", 0.0, 0.0), target("B", 2.0, 0.0), target("C", 2.0, 1.0), target("D", 0.0, 1.0)];
    let at: Vec<Seen> = square.iter().map(|target| seen(picture(target.at, 0.3, 1.0))).collect();
    let failure = match_layout(&at, &square, &LayoutOptions::default()).unwrap_err();
    assert!(failure.to_string().contains("two assignments fit equally well"), "{failure}");
    let right = LayoutOptions { x_runs: XRuns::Right, ..LayoutOptions::default() };
    let found = match_layout(&at, &square, &right).unwrap();
    assert_eq!(found.targets, (0..4).map(Some).collect::<Vec<_>>());
    // Kinds tell as well.
    let (mut marked, mut at) = (square.to_vec(), at);
    (marked[0].kind, at[0].kind) = (Some(TargetKind::Disc), Some(TargetKind::Disc));
    assert!(match_layout(&at, &marked, &LayoutOptions::default()).is_ok());
}

#[test]
fn what_cannot_be_matched_says_why() {
    let options = LayoutOptions::default();
    let (all, _) = places(0.2, 1.0, &[], &[]);
    let said =
        |seen: &[Seen], layout: &[Surveyed]| match_layout(seen, layout, &options).unwrap_err().to_string();
    assert!(said(&all[..3], &layout()).contains("3 places seen are too few: 4"));
    assert!(said(&all, &layout()[..2]).contains("2 surveyed targets"));
    let line: Vec<_> = (0..5).map(|k| target(&k.to_string(), f64::from(k), 0.5)).collect();
    assert!(said(&all, &line).contains("on one line"));
    let strays: Vec<_> = (0..8_u32)
        .map(|k| seen(PixelPoint::new(f64::from(k * k * 23), f64::from((k * 577) % 1000))))
        .collect();
    assert!(said(&strays, &layout()).contains("no view of the layout fits"));
    assert!(said(&[], &[]).contains("too few"));
}

#[test]
fn settings_out_of_range_are_named() {
    let wrong = LayoutOptions { least_share: 0.0, ..LayoutOptions::default() };
    assert!(wrong.check().unwrap_err().to_string().contains("least_share"));
    assert!(LayoutOptions::default().check().is_ok());
}

#[test]
fn a_layout_file_is_read_and_its_faults_are_named_by_line() {
    let text = "model = \"similarity\"\nx_runs = \"left\"\nuncertainty_m = 0.002\n\
                [[target]]\nid = \"A\"\nkind = \"disc\"\nm = [0.0, 0.5]\n[[target]]\nid = \"B\"\nm = [1, 0.5]\n";
    let file = LayoutFile::parse(text, "side.toml").unwrap();
    assert_eq!((file.options.model, file.options.x_runs), (ViewModel::Similarity, XRuns::Left));
    assert!((file.options.survey_u_m - 0.002).abs() < 1e-12);
    assert_eq!(file.targets[0].kind, Some(TargetKind::Disc));
    assert_eq!((file.targets[1].kind, file.targets[1].at), (None, PlanePoint::new(1.0, 0.5)));
    for (from, to, line, part) in [
        ("\"B\"", "\"A\"", 8, "a second target A"),
        ("[1, 0.5]", "[0, 0.5]", 8, "same place as A"),
        ("[1, 0.5]", "[nan, 0.5]", 8, "two finite numbers"),
        ("disc", "patch", 4, "not found by its look"),
        ("0.002", "-1.0", 3, "uncertainty_m must be 0 or more"),
        ("left", "up", 2, "up"),
        ("model", "modle", 1, "modle"),
    ] {
        let said = LayoutFile::parse(&text.replacen(from, to, 1), "side.toml").unwrap_err().to_string();
        assert!(said.contains(&format!("side.toml, line {line}: ")) && said.contains(part), "{said}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Reading errors within their stated uncertainty do not change the assignment.
    #[test]
    fn noise_within_its_uncertainty_changes_nothing(slant in -0.6_f64..0.6, noise in prop::collection::vec(-0.5_f64..0.5, 14)) {
        let (mut seen, truth) = places(slant, 1.0, &[], &[(1500.0, 930.0)]);
        for (at, noise) in seen.iter_mut().zip(noise.chunks_exact(2)) {
            at.place = at.place.moved(noise[0], noise[1]);
        }
        let found = match_layout(&seen, &layout(), &LayoutOptions::default()).unwrap();
        prop_assert_eq!(found.targets, truth);
    }
}
