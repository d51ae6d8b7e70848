//! Found targets are named by a layout of what was surveyed, and taken under those names.

use crate::hands::Hands;

/// The car's targets from its c.g., as the sample's scene places them, m.
const CAR: [(&str, [f64; 2]); 5] = [
    ("C1", [-1.62, 0.18]),
    ("C2", [-0.62, 0.0]),
    ("C3", [0.1, 0.24]),
    ("C4", [0.74, 0.1]),
    ("N1", [1.7, 0.0]),
];

#[test]
fn targets_are_taken_under_their_surveyed_names() {
    let mut hands = Hands::new();
    let mut layout = String::from("x_runs = \"right\"\n");
    for (id, [x, z]) in CAR {
        layout += &format!("[[target]]\nid = \"{id}\"\nkind = \"quadrant\"\nm = [{x:.2}, {z:.2}]\n");
    }
    std::fs::write(hands.folder.path().join("car.toml"), layout).unwrap();
    hands.begin_with_film();
    hands.line("Bodies");
    hands.enter("Add a body", "car");
    hands.line("Targets, side");
    hands.enter("Layout file that names them, if any", "../car.toml");
    hands.press("Find targets in this frame");
    for (id, _) in CAR {
        let names = hands.names(&format!("seems to be {id}"));
        let n = names.first().and_then(|name| name.split_whitespace().next()).unwrap_or_else(|| {
            panic!("{id} is not named: {:?}, {}", hands.names("seems"), hands.said());
        });
        let take = format!("Take {n}");
        hands.press(&take);
    }
    let document = hands.harness.state().document().unwrap();
    // Where the sample's own dossier has them.
    for (id, px) in [("C1", [90.8, 280.9]), ("N1", [529.8, 302.6])] {
        let target = document.target.iter().find(|target| target.id == id).unwrap();
        let off = (target.start.px[0] - px[0]).hypot(target.start.px[1] - px[1]);
        assert!(off < 3.0, "{id}: {:?}", target.start.px);
    }
}

#[test]
fn a_layout_that_is_not_there_is_named() {
    let mut hands = Hands::new();
    hands.begin_with_film();
    hands.line("Bodies");
    hands.enter("Add a body", "car");
    hands.line("Targets, side");
    hands.enter("Layout file that names them, if any", "nowhere.toml");
    hands.press("Find targets in this frame");
    assert!(hands.said().contains("nowhere.toml"), "{}", hands.said());
}
