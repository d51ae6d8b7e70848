//! What a dossier still lacks before it can be measured: the list that a form or a listing shows.

use crate::document::{CameraEntry, Document};

/// One thing still to fill in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// Camera that lacks it; `None` when it is the dossier as a whole.
    pub camera: Option<String>,
    /// Key of `dossier.toml`, such as "camera.speed".
    pub what: &'static str,
    /// What is missing and what to give, as a sentence or two.
    pub text: String,
}

/// A line that a camera lacks.
pub(crate) struct Lack {
    key: &'static str,
    name: &'static str,
    pub(crate) remedy: &'static str,
}

impl Lack {
    pub(crate) fn what(&self, camera: &CameraEntry) -> String {
        format!("camera {} has no {}", camera.id, self.name)
    }
}

const SPEED: Lack = Lack {
    key: "camera.speed",
    name: "film speed",
    remedy: "Give speed = { frames_per_s = 1000.0, source = \"camera record\" } with the true figure",
};
const EXPOSURE: Lack = Lack {
    key: "camera.exposure_s",
    name: "length of exposure",
    remedy: "Give exposure_s, in seconds, from the camera record",
};
const ZERO: Lack = Lack {
    key: "camera.zero",
    name: "time zero",
    remedy: "Give zero = { by = \"contact\" }, or by a flash, a frame or another camera",
};
const BOARD: Lack = Lack {
    key: "camera.board",
    name: "reference board",
    remedy: "Give board = { from_px = [x, y], to_px = [x, y], length_m = …, uncertainty_m = … }, or surveyed points as plane or pose",
};

/// The lines that a camera lacks, in the order of the form.
pub(crate) fn camera_lacks(camera: &CameraEntry) -> Vec<Lack> {
    let lines = [
        (camera.speed.is_none(), SPEED),
        (camera.exposure_s.is_none(), EXPOSURE),
        (camera.zero.is_none(), ZERO),
        (camera.board.is_none() && camera.plane.is_none() && camera.pose.is_none(), BOARD),
    ];
    lines.into_iter().filter_map(|(lacks, line)| lacks.then_some(line)).collect()
}

/// Everything that `document` still lacks, in the order in which one fills it in; empty when nothing does.
#[must_use]
pub fn missing(document: &Document) -> Vec<Missing> {
    let mut list = Vec::new();
    let mut whole = |lacks: bool, what: &'static str, text: &str| {
        if lacks {
            list.push(Missing { camera: None, what, text: text.to_owned() });
        }
    };
    whole(document.test.id.trim().is_empty(), "test.id", "The test has no id. Give it a short id.");
    whole(document.camera.is_empty(), "camera", "There is no camera. Add one with its footage.");
    whole(document.body.is_empty(), "body", "There is no body. Add the striking and the struck vehicle.");
    whole(document.target.is_empty(), "target", "There is no target. Mark the first one in a film.");
    for camera in &document.camera {
        let of_camera = |lack: Lack| Missing {
            camera: Some(camera.id.clone()),
            what: lack.key,
            text: format!("{}. {}.", first_upper(&lack.what(camera)), lack.remedy),
        };
        list.extend(camera_lacks(camera).into_iter().map(of_camera));
    }
    for target in &document.target {
        if !document.body.iter().any(|body| body.id == target.body) {
            list.push(Missing {
                camera: Some(target.camera.clone()),
                what: "target.body",
                text: format!(
                    "Target {} is on body \"{}\", which does not exist. Name a body or add it.",
                    target.id, target.body
                ),
            });
        }
    }
    list
}

fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::missing;
    use crate::{Dossier, Plan};
    use std::path::PathBuf;

    const OPEN: &str =
        "schema = 1\n[test]\nid = \"A\"\ntitle = \"\"\n\n[[camera]]\nid = \"side\"\nfootage = \"a.avi\"\n";

    #[test]
    fn an_open_form_is_read_and_its_lacks_are_named() {
        let dossier = Dossier::parse(PathBuf::new(), "dossier.toml", OPEN.into()).unwrap();
        let keys: Vec<_> = missing(&dossier.document).iter().map(|lack| lack.what).collect();
        let all = ["body", "target", "camera.speed", "camera.exposure_s", "camera.zero", "camera.board"];
        assert_eq!(keys, all);
        let refused = Plan::of(&dossier).unwrap_err().to_string();
        assert!(
            refused.starts_with("dossier.toml, line 6: camera side has no film speed. Give speed"),
            "{refused}"
        );
    }
}
