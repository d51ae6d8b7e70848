//! What the findings rest on: cameras, channels and provenance.

use crate::display::typeset_words;
use filmgauge_results::{CameraSummary, ChannelSummary, Provenance};
use serde::Serialize;

/// One camera's settings.
#[derive(Serialize)]
pub(crate) struct CameraView {
    pub(crate) anchor: String,
    pub(crate) id: String,
    pub(crate) view: String,
    pub(crate) lines: Vec<LineView>,
}

#[derive(Serialize)]
pub(crate) struct LineView {
    pub(crate) label: String,
    pub(crate) text: String,
}

/// One channel's steps.
#[derive(Serialize)]
pub(crate) struct ChannelView {
    pub(crate) code: String,
    pub(crate) body: String,
    pub(crate) steps: Vec<String>,
}

/// Program, settings and inputs.
#[derive(Serialize)]
pub(crate) struct ProvenanceView {
    pub(crate) program: String,
    pub(crate) settings: Vec<String>,
    pub(crate) inputs: Vec<InputView>,
}

#[derive(Serialize)]
pub(crate) struct InputView {
    pub(crate) path: String,
    pub(crate) bytes: String,
    pub(crate) blake3: String,
}

pub(super) fn cameras(cameras: &[CameraSummary]) -> Vec<CameraView> {
    cameras
        .iter()
        .enumerate()
        .map(|(at, camera)| CameraView {
            anchor: format!("camera-{}", at + 1),
            id: camera.id.clone(),
            view: camera.view.clone(),
            lines: camera
                .lines
                .iter()
                .map(|(label, text)| LineView { label: label.clone(), text: text.clone() })
                .collect(),
        })
        .collect()
}

pub(super) fn channels(channels: &[ChannelSummary]) -> Vec<ChannelView> {
    channels
        .iter()
        .map(|channel| ChannelView {
            code: channel.code.clone(),
            body: channel.body.clone(),
            steps: channel.steps.iter().map(|step| typeset_words(step)).collect(),
        })
        .collect()
}

pub(super) fn provenance(provenance: &Provenance) -> ProvenanceView {
    ProvenanceView {
        program: provenance.program.clone(),
        settings: provenance.settings.clone(),
        inputs: provenance
            .inputs
            .iter()
            .map(|input| InputView {
                path: input.path.clone(),
                bytes: grouped(input.bytes),
                blake3: input.blake3.clone(),
            })
            .collect(),
    }
}

/// Digits in threes, parted by thin spaces.
fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push('\u{2009}');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    #[test]
    fn digits_in_threes() {
        assert_eq!(super::grouped(1_234_567), "1\u{2009}234\u{2009}567");
        assert_eq!(super::grouped(123), "123");
        assert_eq!(super::grouped(0), "0");
    }
}
