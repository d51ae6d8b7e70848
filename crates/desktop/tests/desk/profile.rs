//! A crush profile typed after the test, and other means drawn beside the smoothing spline.

use crate::hands::{Hands, copy_of_sample};
use filmgauge_dossier::document::BesideMethod;

#[test]
fn a_crush_profile_is_typed_and_undone() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.line("Crush profiles");
    let label = hands.names("New profile: ").first().cloned().unwrap();
    hands.enter(&label, "front 1.4");
    assert!(hands.said().starts_with("Write a name and seven numbers"), "{}", hands.said());
    hands.enter(&label, "front 1.42 0.31 0.36 0.38 0.37 0.33 0.29");
    assert!(hands.shows("Profile front: done"), "{:?}", hands.names("Profile"));
    hands.line("Profile front");
    hands.enter("± of each depth by hand, m", "0.005");
    hands.enter("Stiffness A, N/m", "50000");
    hands.enter("Stiffness B, N/m²", "400000");
    hands.enter("C1 to C6 from the undeformed line, m", "0.3 0.36 0.38 0.37 0.33 0.29");
    let profile = hands.harness.state().document().unwrap().crush_profile[0].clone();
    assert_eq!((profile.id.as_str(), profile.width_m, profile.uncertainty_m), ("front", 1.42, 0.005));
    assert_eq!(profile.depths_m, Some([0.3, 0.36, 0.38, 0.37, 0.33, 0.29]));
    let stiffness = profile.stiffness.unwrap();
    assert_eq!((stiffness.a_n_per_m, stiffness.b_n_per_m2), (5e4, 4e5));
    hands.act("undo everything");
    assert!(hands.harness.state().document().unwrap().crush_profile.is_empty());
}

#[test]
fn other_means_beside_the_spline_are_chosen() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.line("Test");
    hands.choose("Beside the smoothing spline", "a Butterworth filter");
    assert_eq!(hands.harness.state().document().unwrap().test.beside, [BesideMethod::Butterworth]);
    hands.choose("Beside the smoothing spline", "nothing");
    assert!(hands.harness.state().document().unwrap().test.beside.is_empty());
}
