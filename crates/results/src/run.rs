//! Everything one run of `measure` yields.

use crate::{
    ClocksResult, CrosscheckResult, EventRow, FilmDrawing, Finding, FindingSource, GapRow, MarkRow,
    MotionRow, Notice, Panel, Provenance, StepRow,
};
use filmgauge_quantities::GreyImage;

/// Units that people see; files stay SI.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// m, m/s, g, mm.
    #[default]
    Si,
    /// ft, mi/h, g, in.
    Us,
}

/// The test, as the sheet's head shows it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TestSummary {
    /// Test id.
    pub id: String,
    /// Title.
    pub title: String,
    /// `iso8855` or `sae_j1733`.
    pub axes: String,
    /// Units for people.
    pub units: UnitSystem,
    /// Free text from the dossier.
    pub comment: String,
}

/// One camera, as the sheet's settings table shows it: label and text, ready to print.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CameraSummary {
    /// Camera id.
    pub id: String,
    /// `side` or `overhead`.
    pub view: String,
    /// Lines such as ("Film speed", "1000.000 frames/s ± 0.010, camera record").
    pub lines: Vec<(String, String)>,
}

/// One channel, as the sheet's settings table shows it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChannelSummary {
    /// Channel code.
    pub code: String,
    /// Body that carries it.
    pub body: String,
    /// Steps applied, in order, such as "offset +0.12 m/s² removed", "CFC 180".
    pub steps: Vec<String>,
}

/// A picture of the strip: one camera at a named instant.
#[derive(Debug, Clone, PartialEq)]
pub struct StripPicture {
    /// Camera id.
    pub camera: String,
    /// Frame number.
    pub frame: u32,
    /// Seconds after contact.
    pub after_contact_s: f64,
    /// Metres per pixel in the board's plane, for the scale bar.
    pub metres_per_px: f64,
    /// The stored picture, not stretched.
    pub picture: GreyImage,
    /// Marks drawn on it: target id, x px, y px.
    pub marks: Vec<(String, f64, f64)>,
}

/// The frame index of one film, as the text of its file: what "frame n" is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FrameTableText {
    /// Camera id.
    pub camera: String,
    /// Content of the file.
    pub text: String,
}

/// Everything one run yields. A pure function of the dossier, its files and the program's version.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Results {
    /// The test.
    pub test: TestSummary,
    /// Cameras, in the dossier's order.
    pub cameras: Vec<CameraSummary>,
    /// Channels, in the dossier's order.
    pub channels: Vec<ChannelSummary>,
    /// Findings, in reading order.
    pub findings: Vec<Finding>,
    /// Film against channels.
    pub crosschecks: Vec<CrosscheckResult>,
    /// Frame index of each film, camera by camera.
    pub frame_tables: Vec<FrameTableText>,
    /// What ties the clocks of cameras and sensors; `None` where nothing ties two of them.
    pub clocks: Option<ClocksResult>,
    /// Steps of steadied films by camera and frame.
    pub steps: Vec<StepRow>,
    /// Marks by camera, target, frame.
    pub marks: Vec<MarkRow>,
    /// Gaps by camera, target, frame.
    pub gaps: Vec<GapRow>,
    /// Instants of the test, named by hand or found, by time.
    pub events: Vec<EventRow>,
    /// Motion by camera, body, time.
    pub motion: Vec<MotionRow>,
    /// Diagrams of the sheet.
    pub panels: Vec<Panel>,
    /// What is drawn over each film besides its marks.
    pub drawings: Vec<FilmDrawing>,
    /// Picture strip: cameras in order, instants in order.
    pub strip: Vec<StripPicture>,
    /// Partial trouble.
    pub notices: Vec<Notice>,
    /// What all this follows from.
    pub provenance: Provenance,
}

impl Results {
    /// Whether a finding could not be made, a channel is doubted, or a notice asks for a person.
    #[must_use]
    pub fn needs_person(&self) -> bool {
        // A crosscheck says itself whether a figure that it could not judge matters.
        let of_measurement = |finding: &&Finding| finding.source != FindingSource::Fused;
        self.findings.iter().filter(of_measurement).any(|finding| finding.value.is_none() && !finding.absent)
            || self.crosschecks.iter().any(CrosscheckResult::needs_person)
            || self.clocks.as_ref().is_some_and(ClocksResult::needs_person)
            || self.notices.iter().any(|notice| notice.severity == crate::Severity::Person)
    }
}
