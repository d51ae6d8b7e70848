//! What every number of a results file means, in words: axes, units, time base, frame numbering, smoothing, states of
//! marks. The same list stands in the spreadsheet, in each Parquet file and in `tables.json`.

use crate::words::axes_text;
use filmgauge_results::Results;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One convention.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Convention {
    /// What it is about, such as "time base".
    pub topic: String,
    /// What holds.
    pub text: String,
}

/// What does not change from test to test.
const FIXED: [(&str, &str); 10] = [
    ("units", "SI, degrees for angles; the unit stands beside each column; 1 is a plain number"),
    ("missing values", "empty or null, never zero; no file holds NaN or infinity"),
    (
        "axes of film",
        "x along the path towards the struck vehicle, y to its left, z up; metres in the plane of motion",
    ),
    ("angles of film", "pitch nose up, yaw nose left and roll left side up are positive"),
    ("pixels", "(0, 0) is the centre of the stored picture's top left pixel; x to the right, y downwards"),
    ("time base", "seconds from time zero; a frame's time is its mid-exposure"),
    (
        "frame numbers",
        "from 0 in the order of presentation; frames-CAMERA.txt says which picture each one is",
    ),
    (
        "uncertainty",
        "columns that begin with u_ or s, and uncertainty: one standard uncertainty; 1.96 times that is half the 95 % interval",
    ),
    (
        "states of marks",
        "found: located by the program; hand: placed by a person; inferred: from the body's pose, the target hidden. \
         A frame without a mark is in a gap",
    ),
    (
        "states of motion",
        "measured: the body had marks in the frame; bridged: none, and the smooth curve runs across with a wider band",
    ),
];

/// Conventions of `results`, in reading order.
pub(crate) fn conventions(results: &Results) -> Vec<Convention> {
    let entry = |topic: &str, text: &str| Convention { topic: topic.to_owned(), text: text.to_owned() };
    let mut list = vec![
        entry("test", &format!("{}: {}", results.test.id, results.test.title)),
        entry("program", &results.provenance.program),
    ];
    list.extend(FIXED.map(|(topic, text)| entry(topic, text)));
    list.push(entry("axes of sensors", &axes_text(&results.test.axes)));
    let smoothing = results.provenance.settings.iter().filter(|setting| setting.starts_with("smooth"));
    list.extend(smoothing.map(|setting| entry("smoothing", setting)));
    for camera in &results.cameras {
        let about = |label: &str| format!("camera {}: {}", camera.id, label.to_lowercase());
        list.extend(camera.lines.iter().map(|(label, text)| entry(&about(label), text)));
    }
    for channel in &results.channels {
        let steps = if channel.steps.is_empty() { "none".to_owned() } else { channel.steps.join("; ") };
        list.push(entry(&format!("channel {}: steps applied", channel.code), &steps));
    }
    list.push(entry("caution", &crate::words::CAUTIONS.join(" ")));
    list
}
